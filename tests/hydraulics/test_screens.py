"""Screens: quadrature of the slot law, brentq for the level, and the published losses that `fluids` holds."""

from __future__ import annotations

from math import inf, radians, sin, sqrt

import fluids
import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from overbank.hydraulics import screens
from overbank.hydraulics.clean_screens import kirschmer
from overbank.hydraulics.screens import BOTTOM_UP, FLOATING_RAFT, SHUT, UNIFORM
from overbank.hydraulics.weirs import villemonte

G = 9.81
PATTERNS = (UNIFORM, FLOATING_RAFT, BOTTOM_UP)


def random_screen(rng: np.random.Generator) -> dict[str, float]:
    bar, gap = rng.uniform(0.008, 0.03), rng.uniform(0.05, 0.3)
    return {
        "width": rng.uniform(0.5, 8.0),
        "height": rng.uniform(0.4, 3.0),
        "clear": screens.clear_ratio(bar, gap),
        "clean_loss": kirschmer(rng.uniform(0.76, 2.42), bar, gap, rng.uniform(30, 90)),
        "free_coefficient": 0.6,
        "blockage": rng.uniform(0, 0.98),
        "pattern": float(rng.integers(3)),
        "overflow_coefficient": rng.choice([0.0, 1.7]),
        "lean": sin(radians(rng.uniform(30, 90))),
    }


def passed(s: dict[str, float], up: float, down: float) -> float:
    """Flow through bars and over the top, from the formulas of the package."""
    loss = screens.screen_loss(s["clear"], s["clean_loss"], s["blockage"], s["lean"])
    opening = (s["width"], s["height"], s["clear"], loss, s["free_coefficient"], s["blockage"], s["pattern"])
    over = screens.overflow(up, down, s["height"], s["width"], s["overflow_coefficient"])
    return screens.opening_flow(*opening, up, down, s["lean"]) + over


@pytest.mark.parametrize("low", [0.0, 0.3])
@pytest.mark.parametrize("high", [0.4, 1.1, 5.0])
@pytest.mark.parametrize("up", [0.2, 0.5, 1.3, 8.0])
@pytest.mark.parametrize("down", [-1.0, 0.1, 0.35, 0.49, 1.2, 7.9])
def test_slot_flow_is_the_integral_of_the_local_velocity(low: float, high: float, up: float, down: float) -> None:
    """Cd w sqrt(2g) times the integral of sqrt(min(hu - z, hu - hd)) over the open, wet height."""
    top = min(high, up)
    expected = 0.0
    if top > low and up > down:
        kink = [down] if low < down < top else None
        expected = quad(lambda z: sqrt(max(min(up - z, up - down), 0.0)), low, top, points=kink)[0]
    got = screens.slot_flow(0.62, 2.5, low, high, up, down)
    assert got == pytest.approx(0.62 * 2.5 * sqrt(2 * G) * expected, rel=1e-7, abs=1e-12)


def test_a_thin_slot_far_below_keeps_its_digits() -> None:
    """Torricelli: a slot of 0.1 mm under a head of 1e6 m, where h^1.5 - (h - 1e-4)^1.5 would lose ten digits."""
    got = screens.slot_flow(1.0, 1.0, 0.0, 1e-4, 1e6, -1.0)
    assert got == pytest.approx(1e-4 * sqrt(2 * G * 1e6), rel=1e-9)


def test_level_is_brentqs() -> None:
    rng = np.random.default_rng(3)
    for _ in range(1000):
        s = random_screen(rng)
        flow, down = s["width"] * np.exp(rng.uniform(-4, 1.2)), rng.uniform(-0.5, 2.5)
        got = screens.screen_head(flow, down, **s)
        low = max(down, 0.0)
        high = low + 1e-6
        while passed(s, high, down) < flow:
            high = low + 2 * (high - low)
        expected = brentq(lambda up, s=s, d=down, q=flow: passed(s, up, d) - q, low, high, xtol=1e-13)
        assert got == pytest.approx(expected, abs=3e-8, rel=1e-12)


@pytest.mark.parametrize("blockage", [0.0, 0.3, 0.6])
def test_a_drowned_uniform_screen_loses_zeta_times_the_velocity_head(blockage: float) -> None:
    """Far below both levels the slot law is h = zeta V^2 / 2g on the gross velocity."""
    clear, clean_loss, flow, width, height = 0.86, 0.18, 3.0, 3.0, 1.0
    head = screens.screen_head(flow, 50.0, width, height, clear, clean_loss, inf, blockage, 0.0, 0.0) - 50.0
    zeta = screens.screen_loss(clear, clean_loss, blockage)
    assert head == pytest.approx(zeta * (flow / (width * height)) ** 2 / (2 * G), rel=1e-5)


def test_contraction_loss_meets_the_square_edged_screens_that_fluids_holds() -> None:
    """`fluids.filters.square_edge_screen`, table of Blevins (1984): met to -6/+8 % for f 0.2 to 0.6."""
    for f in (0.2, 0.3, 0.4, 0.5, 0.6):
        published = float(fluids.filters.square_edge_screen(f))
        assert screens.contraction_loss(f) / published == pytest.approx(1.0, abs=0.085)
    shortfall = screens.contraction_loss(0.8) / float(fluids.filters.square_edge_screen(0.8))
    assert 0.5 < shortfall < 0.6  # known to be low there: the clean loss takes over


def test_loss_takes_the_higher_of_both_laws_and_is_the_clean_one_without_debris() -> None:
    assert screens.screen_loss(0.875, 0.157, 0.0) == 0.157
    assert screens.screen_loss(0.875, 0.157, 0.9) == pytest.approx(screens.contraction_loss(0.0875), rel=1e-14)
    losses = [screens.screen_loss(0.875, 0.157, b) for b in np.linspace(0, 0.999, 2000)]
    assert np.all(np.diff(losses) > 0)


@pytest.mark.parametrize("degrees", [90.0, 60.0, 45.0, 30.0])
def test_inclined_bars_have_their_clear_area_along_them(degrees: float) -> None:
    """Written out: contraction and widening of the stream that crosses the plane of the bars, drowned far below.

    Its velocity there is sin a of the upright one. At 80 % blocked, bars 20 mm with gaps of 125 mm: the drop of an
    upright screen is 4.0 times that at 30 degrees. The free slot along the bars is 1/sin a as long.
    """
    clear, blockage, flow, width, height, lean = 125 / 145, 0.8, 3.0, 3.0, 1.0, sin(radians(degrees))
    net = clear * (1 - blockage)
    across = lean * flow / (width * height)
    drop = (1 / (net * (0.62 + 0.38 * net**3)) - 1) ** 2 * across**2 / (2 * G)
    clean = kirschmer(2.42, 0.020, 0.125, degrees)
    head = screens.screen_head(flow, 50.0, width, height, clear, clean, inf, blockage, 0.0, 0.0, lean) - 50.0
    assert head == pytest.approx(drop, rel=1e-5)
    up = 0.4
    free = screens.opening_flow(width, height, clear, 1e-9, 0.6, blockage, 0.0, up, -1.0, lean)
    slot = 0.6 * width * net / lean * quad(lambda z: sqrt(2 * G * (up - z)), 0.0, up)[0]
    assert free == pytest.approx(slot, rel=1e-7)


@pytest.mark.parametrize("pattern", PATTERNS)
def test_no_debris_is_the_clean_screen_whatever_the_pattern(pattern: int) -> None:
    clean = screens.screen_head(4.0, 1.0, 3.0, 2.0, 0.86, 0.18, 0.6, 0.0, float(UNIFORM), 1.7)
    assert screens.screen_head(4.0, 1.0, 3.0, 2.0, 0.86, 0.18, 0.6, 0.0, float(pattern), 1.7) == clean
    trace = screens.screen_head(4.0, 1.0, 3.0, 2.0, 0.86, 0.18, 0.6, 1e-12, float(pattern), 1.7)
    assert trace == pytest.approx(clean, abs=3e-8)


@pytest.mark.parametrize("pattern", PATTERNS)
def test_shut(pattern: int) -> None:
    """No way through; over the top it is a plain weir."""
    for blockage in (SHUT, 1 - 1e-12, 1.0):
        assert screens.screen_head(4.0, 1.0, 3.0, 2.0, 0.86, 0.18, 0.6, blockage, float(pattern), 0.0) == inf
        over = screens.screen_head(4.0, 1.0, 3.0, 2.0, 0.86, 0.18, 0.6, blockage, float(pattern), 1.7)
        assert over == pytest.approx(2.0 + (4.0 / (1.7 * 3.0)) ** (2 / 3), abs=2e-8)
    drowned = screens.screen_head(4.0, 2.5, 3.0, 2.0, 0.86, 0.18, 0.6, 1.0, float(pattern), 1.7)
    head = drowned - 2.0
    assert 1.7 * 3.0 * head**1.5 * villemonte(0.5 / head, 1.5) == pytest.approx(4.0, rel=1e-6)


def test_no_flow_stands_at_the_lip_of_the_opening() -> None:
    """The level for no flow is the limit of that for the least flow."""
    for blockage, pattern, over, behind in (
        (0.5, BOTTOM_UP, 1.7, 0.2),
        (0.5, BOTTOM_UP, 0.0, 1.4),
        (1.0, BOTTOM_UP, 1.7, 0.2),
        (1.0, UNIFORM, 1.7, 0.2),
        (0.5, UNIFORM, 1.7, 0.2),
        (0.5, FLOATING_RAFT, 0.0, -0.3),
    ):
        screen = (3.0, 2.0, 0.86, 0.18, 0.6, blockage, float(pattern), over)
        at_rest = screens.screen_head(0.0, behind, *screen)
        # free fall from rest: the head goes with flow^(2/3) and starts steeply
        assert screens.screen_head(1e-12, behind, *screen) == pytest.approx(at_rest, abs=1e-5)


def test_clear_ratio() -> None:
    assert screens.clear_ratio(0.020, 0.140) == pytest.approx(0.875)


def test_level_never_falls() -> None:
    """With flow, level behind, blockage and clean loss; 2e-8 m is the width of the bracket that the solver stops at."""
    rng = np.random.default_rng(4)
    for _ in range(3000):
        s = random_screen(rng)
        flow, down = s["width"] * np.exp(rng.uniform(-4, 1.2)), rng.uniform(-0.5, 2.5)
        step = 10 ** rng.uniform(-4, -0.3)
        here = screens.screen_head(flow, down, **s)
        more_debris = {**s, "blockage": s["blockage"] + (1 - s["blockage"]) * step}
        tolerance = 4e-8 + 1e-12 * here
        assert screens.screen_head(flow * (1 + step), down, **s) >= here - tolerance
        assert screens.screen_head(flow, down + step, **s) >= here - tolerance
        assert screens.screen_head(flow, down, **more_debris) >= here - tolerance
        assert screens.screen_head(flow, down, **{**s, "clean_loss": s["clean_loss"] * (1 + step)}) >= here - tolerance
