"""The gradually varied profile against SciPy's integrators in depth and in energy, and quadrature of dx/dE."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from plain_crossing import Tube, depth_at_inlet
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from overbank.hydraulics import quadrature, uniform
from overbank.hydraulics import sections as sec
from overbank.hydraulics.profile import MOST_STEPS, depth_upstream, is_steep, rates

G = 9.81
CHANNEL = sec.trapezoid(2.5, 1.5, 0.04)
OPEN = {
    # section, flow, slope, depth downstream
    "M1": (CHANNEL, 6.0, 0.002, 2.5),
    "M2 from critical depth": (CHANNEL, 6.0, 0.002, 0.0),
    "M2 from above critical": (CHANNEL, 6.0, 0.002, 0.9),
    "level bed": (CHANNEL, 6.0, 0.0, 0.0),
    "adverse bed": (CHANNEL, 6.0, -0.003, 1.0),
    "S1": (CHANNEL._replace(manning_n=0.02, bed_manning_n=0.02), 6.0, 0.04, 2.5),
    "rectangle, M1": (sec.rectangle(5.0, 0.02), 20.0, 0.001, 3.0),
}
BARRELS = {
    "box filling": (Tube("box", 2.0, 1.5, 0.02, 0.02), 8.0, 0.001, 0.9),
    "box emptying": (Tube("box", 2.0, 1.5, 0.013, 0.013), 5.0, 0.02, 1.7),
    "box full": (Tube("box", 2.0, 1.5, 0.013, 0.013), 9.0, 0.001, 2.2),
    "box with a rough bed": (Tube("box", 2.0, 1.5, 0.013, 0.04), 5.0, 0.004, 0.0),
    "pipe, free outfall": (Tube("pipe", 1.5, 1.5, 0.013, 0.013), 3.0, 0.002, 0.0),
    "pipe filling": (Tube("pipe", 1.5, 1.5, 0.024, 0.024), 3.0, 0.001, 1.2),
    "silted pipe": (Tube("pipe", 1.5, 1.5, 0.024, 0.03, silt=0.4), 1.0, 0.001, 0.3),
    "arch": (Tube("arch", 4.0, 1.8, 0.017, 0.03, wall=0.8), 8.0, 0.003, 0.0),
    "arch emptying": (Tube("arch", 4.0, 1.8, 0.017, 0.017, wall=0.8), 6.0, 0.03, 2.4),
    "tall ellipse": (Tube("ellipse", 1.0, 1.6, 0.016, 0.016), 1.5, -0.002, 0.2),
    "wide ellipse, steep": (Tube("ellipse", 2.6, 1.2, 0.012, 0.012), 3.0, 0.05, 1.1),
}
CODES = {"box": sec.RECTANGLE, "pipe": sec.CIRCLE, "arch": sec.ARCH, "ellipse": sec.ELLIPSE}


def compiled(t: Tube) -> sec.Section:
    s = sec.Section(float(CODES[t.shape]), t.span, 0.0, t.rise, t.wall, 0.0, t.n, t.bed_n)
    return sec.with_silt(s, t.silt)


def friction(s: sec.Section, flow: float, y: float) -> float:
    return (flow / sec.conveyance(s, y)) ** 2


@pytest.mark.parametrize("name", OPEN)
@pytest.mark.parametrize("length", [1.0, 30.0, 400.0])
def test_energy_form_by_lsoda(name: str, length: float) -> None:
    """dE/dx = Sf(y(E)) - S, with y(E) by brentq: no singular point at critical depth."""
    s, flow, slope, below = OPEN[name]
    critical = uniform.critical_depth(s, flow)
    start = max(below, critical)
    least = uniform.specific_energy(s, flow, critical)

    def depth(energy: float) -> float:
        if energy <= least * (1 + 1e-14):
            return critical
        return brentq(lambda y: y + (flow / sec.area(s, y)) ** 2 / (2 * G) - energy, critical, energy, xtol=1e-14)

    found = solve_ivp(
        lambda _, e: [friction(s, flow, depth(e[0])) - slope],
        (0.0, length),
        [uniform.specific_energy(s, flow, start)],
        method="LSODA",
        rtol=1e-9,
        atol=1e-11,
    )
    got = depth_upstream(s, flow, slope, length, below)
    assert uniform.specific_energy(s, flow, got) == pytest.approx(max(found.y[0, -1], least), abs=5e-6)


@pytest.mark.parametrize("name", ["M1", "M2 from above critical", "adverse bed", "rectangle, M1"])
def test_depth_form_by_dop853(name: str) -> None:
    """dy/dx = (Sf - S) / (1 - Fr^2), away from critical depth."""
    s, flow, slope, below = OPEN[name]

    def gradient(_: float, y: np.ndarray) -> list[float]:
        froude = flow**2 * sec.top_width(s, y[0]) / (G * sec.area(s, y[0]) ** 3)
        return [(friction(s, flow, y[0]) - slope) / (1 - froude)]

    at = [5.0, 60.0, 250.0, 900.0]
    found = solve_ivp(gradient, (0, 1000), [below], method="DOP853", rtol=1e-11, atol=1e-12, t_eval=at)
    got = [depth_upstream(s, flow, slope, x, below) for x in at]
    np.testing.assert_allclose(got, found.y[0], atol=3e-6)


def test_quadrature_of_the_distance_in_energy() -> None:
    """x = integral of dE / (Sf - S) along a box's M2 curve."""
    s, flow, slope = sec.rectangle(3.0, 0.02), 9.0, 0.0005
    low, high = 1.2, 1.45

    def pace(energy: float) -> float:
        y = uniform.subcritical_depth(s, flow, energy)
        return 1 / (friction(s, flow, y) - slope)

    ends = [uniform.specific_energy(s, flow, y) for y in (low, high)]
    length = quad(pace, *ends, epsrel=1e-12)[0]
    assert depth_upstream(s, flow, slope, length, low) == pytest.approx(high, abs=2e-6)


@pytest.mark.parametrize("name", BARRELS)
@pytest.mark.parametrize("length", [0.5, 8.0, 40.0, 200.0])
def test_barrels_by_quadrature_of_the_distance_in_depth(name: str, length: float) -> None:
    """Free surface, filling, emptying and full, by the plain solver's search for the depth at the right distance."""
    tube, flow, slope, below = BARRELS[name]
    expected = depth_at_inlet(tube, flow, slope, length, below)
    assert depth_upstream(compiled(tube), flow, slope, length, below) == pytest.approx(expected, abs=2e-5)


def test_a_thousand_barrels_at_random() -> None:
    """The error stays under 2e-5 of the depth in energy; the tolerance of a step is 1e-7 of the depth."""
    rng = np.random.default_rng(7)
    errors = []
    for _ in range(1000):
        span = rng.uniform(0.5, 4.0)
        shape = rng.choice(list(CODES))
        rise = span if shape == "pipe" else span * rng.uniform(0.5, 1.4)
        wall = max(rise - span / 2, rise * rng.uniform(0.05, 0.9)) if shape == "arch" else 0.0
        tube = Tube(str(shape), span, rise, rng.uniform(0.01, 0.04), rng.uniform(0.01, 0.05), wall)
        slope = rng.choice([0.0, rng.uniform(0, 0.01), rng.uniform(0, 0.1), -rng.uniform(0, 0.01)])
        flow = span * rise**1.5 * np.exp(rng.uniform(-3, 1))
        case = (flow, slope, rng.uniform(2, 150), rise * rng.uniform(0, 1.5))
        s, expected = compiled(tube), depth_at_inlet(tube, *case)
        got = depth_upstream(s, *case)
        heads = [uniform.specific_energy(s, flow, y) for y in (got, expected)]
        errors.append(abs(heads[0] - heads[1]) / min(max(expected, 1e-9), rise))
    # near the highest friction of a round barrel a profile all but stops; its depth is then ill-conditioned
    assert np.quantile(errors, 0.998) < 2e-5
    assert np.max(errors) < 5e-4


@pytest.mark.parametrize("name", [name for name in OPEN if name.startswith(("M", "rect"))])
def test_a_long_mild_reach_ends_at_normal_depth(name: str) -> None:
    s, flow, slope, below = OPEN[name]
    normal = uniform.normal_depth(s, flow, slope)
    assert depth_upstream(s, flow, slope, 20_000.0, below) == pytest.approx(normal, rel=2e-6)


def test_a_steep_reach_ends_at_critical_depth() -> None:
    s, flow, slope, below = OPEN["S1"]
    critical = uniform.critical_depth(s, flow)
    assert is_steep(s, flow, slope)
    assert not is_steep(s, flow, 0.001)
    assert depth_upstream(s, flow, slope, 500.0, below) == critical
    assert depth_upstream(s, flow, slope, 5.0, 0.1) == critical
    assert depth_upstream(s, flow, slope, 20.0, below) > critical


def test_no_length_no_flow_no_bottom() -> None:
    assert depth_upstream(CHANNEL, 6.0, 0.002, 0.0, 2.0) == 2.0
    assert depth_upstream(CHANNEL, 6.0, 0.002, 0.0, 0.0) == uniform.critical_depth(CHANNEL, 6.0)
    assert depth_upstream(CHANNEL, 0.0, 0.002, 100.0, 2.0) == pytest.approx(1.8)
    assert depth_upstream(CHANNEL, 0.0, 0.05, 100.0, 2.0) == 0.0
    assert depth_upstream(CHANNEL, 0.0, -0.01, 100.0, 2.0) == pytest.approx(3.0)
    assert depth_upstream(CHANNEL, 6.0, 0.002, 100.0, inf) == inf


def test_a_full_barrel_is_a_straight_line_to_the_last_digit() -> None:
    s = sec.pipe(1.2, 0.02)
    slope_of_friction = (3.0 / sec.conveyance(s, 1.2)) ** 2
    got = depth_upstream(s, 3.0, 0.004, 750.0, 1.9)
    assert got == pytest.approx(1.9 + (slope_of_friction - 0.004) * 750.0, rel=1e-13)


def test_profile_does_not_jump_where_a_step_is_added() -> None:
    """The largest increment halves with the spacing, along the length and with the depth below, as the box fills."""
    tube, flow, slope, _ = BARRELS["box filling"]
    s = compiled(tube)
    for largest in (
        [np.diff([depth_upstream(s, flow, slope, x, 0.9) for x in np.linspace(1, 400, n)]) for n in (801, 1601)],
        [np.diff([depth_upstream(s, flow, slope, 60.0, y) for y in np.linspace(1.19, 1.6, n)]) for n in (801, 1601)],
    ):
        coarse, fine = largest
        assert min(coarse.min(), fine.min()) > -1e-7
        assert fine.max() < 0.55 * coarse.max()


def test_the_roof_of_a_box_is_met_without_noise() -> None:
    """Friction rises sharply over the last fiftieth of the rise: a step ends where that begins."""
    rng = np.random.default_rng(0)
    for _ in range(150):
        span, rise = rng.uniform(0.5, 3, 2)
        n, length, slope = rng.uniform(0.015, 0.04), rng.uniform(30, 300), rng.uniform(-0.01, 0.002)
        flow, below = span * rise**1.5 * np.exp(rng.uniform(-1.5, 0.5)), rise * rng.uniform(0, 0.9)
        expected = depth_at_inlet(Tube("box", span, rise, n, n), flow, slope, length, below)
        got = depth_upstream(sec.box(span, rise, n), flow, slope, length, below)
        assert got == pytest.approx(expected, abs=1.5e-6 * rise)


def test_points_and_weights_are_lobattos() -> None:
    """By NumPy's Legendre polynomials; Lobatto's rule of five is exact to the seventh power, Simpson's to the third."""
    fourth = np.polynomial.legendre.Legendre.basis(4)
    places = np.array([-1.0, *sorted(fourth.deriv().roots()), 1.0])
    np.testing.assert_allclose(quadrature.PLACES, places, atol=1e-14)
    np.testing.assert_allclose(quadrature.FIVE, 2.0 / (5 * 4 * fourth(places) ** 2), atol=1e-14)
    for weights, highest in ((quadrature.FIVE, 7), (quadrature.THREE, 3)):
        for power in range(highest + 1):
            found = sum(w * x**power for w, x in zip(weights, quadrature.PLACES, strict=True))
            assert found == pytest.approx((1 - (-1) ** (power + 1)) / (power + 1), abs=1e-14)


def test_rates_are_friction_and_froude() -> None:
    s, flow, slope, y = CHANNEL, 6.0, 0.002, 1.1
    f, g = rates(s, flow, slope, y)
    assert f == pytest.approx(friction(s, flow, y) - slope, rel=1e-12)
    assert g == pytest.approx(1 - uniform.froude(s, flow, y) ** 2, rel=1e-12)
    assert MOST_STEPS >= 300  # no case of the random tests needs a tenth of it
