"""A surveyed section upstream of weirs and bridges: its own formulas, a second route in plain SciPy, and laws.

The second route cuts the ground itself, piece by piece, and solves the written equations by bracketing: nothing of the
compiled tables, stages or root finder. Equations: docs, weirs, bridges and surveyed sections.
"""

from __future__ import annotations

from functools import partial
from math import inf, sqrt

import numpy as np
import pytest
from by_energy import subcritical_level
from numpy.typing import NDArray
from scipy.optimize import brentq, minimize_scalar

from overbank._jit import run_rows
from overbank.constants import GRAVITY
from overbank.hydraulics import bridges, crests, rows, sections, surveyed_rows, surveyed_stages
from overbank.hydraulics.surveyed import HORTON, SUBDIVIDED, Surveyed, energy_level, froude_squared
from overbank.hydraulics.surveyed import area as surveyed_area
from overbank.hydraulics.surveyed_levels import critical_level
from overbank.hydraulics.surveyed_table import SurveyTable, survey_table
from overbank.hydraulics.weir_level import (
    APPROACH_CRITICAL,
    DROWNED,
    FREE,
    NO_PLATE,
    Crest,
    WeirState,
    weir_level,
    weir_state,
)

Array = NDArray[np.float64]

OFFSETS = np.array([0.0, 2.0, 12.0, 14.0, 16.0, 20.0, 22.0, 24.0, 38.0, 40.0])
GROUND = np.array([3.0, 1.5, 1.35, 0.15, 0.0, 0.0, 0.2, 1.35, 1.6, 3.0])
"""A channel between two flood plains (invented)."""

LINES = (12.0, 24.0)
MANNING = np.array([0.06, 0.035, 0.05])
TRAPEZOID = survey_table([0.0, 40.0, 50.0, 90.0], [20.0, 0.0, 0.0, 20.0])
VALLEY = survey_table(OFFSETS, GROUND, LINES)
PLAIN = survey_table([0, 0, 38, 40, 46, 48, 86, 86], [4, 1.4, 1.4, 0, 0, 1.4, 1.4, 4], (38.0, 48.0))
"""Level plains, over which alpha jumps and the energy falls as the level rises (invented)."""


def section(method: int = SUBDIVIDED, shift: float = 0.0) -> Surveyed:
    return Surveyed(VALLEY, MANNING, float(method), shift)


def stages(s: Surveyed) -> Array:
    return surveyed_stages.staged(s, surveyed_stages.laid_out(s.table))


def counted(level: float) -> float:
    """A / sqrt(alpha) of the valley, cut piece by piece at one level."""
    area, conveyance, cubes = 0.0, 0.0, 0.0
    edges = (OFFSETS[0], *LINES, OFFSETS[-1])
    for left, right, n in zip(edges, edges[1:], MANNING, strict=False):
        a = p = 0.0
        for x, xx, z, zz in zip(OFFSETS, OFFSETS[1:], GROUND, GROUND[1:], strict=False):
            if x < left or xx > right:
                continue
            low, high = min(z, zz), max(z, zz)
            wet = 1.0 if high <= level else max(level - low, 0.0) / (high - low)
            if wet > 0.0:
                a += wet * (xx - x) * (level - 0.5 * (low + min(high, level)))
                p += wet * np.hypot(xx - x, zz - z)
        for x, z in ((OFFSETS[0], GROUND[0]), (OFFSETS[-1], GROUND[-1])):
            if left <= x <= right and x in (left, right):
                p += max(level - z, 0.0)
        if a > 0.0:
            k = a * (a / p) ** (2 / 3) / n
            area, conveyance, cubes = area + a, conveyance + k, cubes + k**3 / a**2
    return float(conveyance**1.5 / sqrt(cubes)) if area > 0.0 else 0.0


def energy(flow: float, level: float) -> float:
    return level + (flow / counted(level)) ** 2 / (2 * GRAVITY)


def plain_critical(flow: float) -> float:
    """Level of the least energy, from a fine walk."""
    levels = np.linspace(0.05, 4.0, 400)
    best = int(np.argmin([energy(flow, z) for z in levels]))
    around = (levels[max(best - 1, 0)], levels[min(best + 1, 399)])
    found = minimize_scalar(partial(energy, flow), bounds=around, method="bounded", options={"xatol": 1e-10})
    return float(found.x)


FLOWS = np.geomspace(0.5, 70.0, 12)


@pytest.mark.parametrize("method", [SUBDIVIDED, HORTON])
def test_stages_give_what_the_formulas_of_the_section_give(method: int) -> None:
    """Areas exactly; energy and critical level to 2e-5 m, up to the ends of the survey.

    The level of an energy to 2e-5 m too, and to 5e-5 m where it hardly changes the energy, close above critical level.
    """
    s = section(method, 10.0)
    found = stages(s)
    assert surveyed_stages.stage_area(found, 9.9) == 0.0  # below the lowest point
    for level in np.linspace(10.002, 12.99, 301):
        assert surveyed_stages.stage_area(found, level) == pytest.approx(surveyed_area(s, level), rel=1e-11)
        froude = surveyed_stages.stage_froude_squared(found, 5.0, level)
        assert froude == pytest.approx(froude_squared(s, 5.0, level), rel=2e-3)
    for flow in FLOWS:
        critical = critical_level(s, flow)
        assert surveyed_stages.stage_critical(found, flow) == pytest.approx(critical.level, abs=2e-5)
        for more in (1e-3, 0.05, 0.3, 0.8):
            level = subcritical_level(s, flow, critical.energy + more)
            own = surveyed_stages.stage_level(found, flow, critical.energy + more)
            slope = 1.0 - froude_squared(s, flow, level)
            assert own == pytest.approx(level, abs=2e-5 if slope > 0.3 else 5e-5)
            least = min(energy_level(s, flow, z) for z in np.linspace(level, level + 1.0, 2001))
            assert surveyed_stages.stage_energy(found, flow, level) == pytest.approx(least, abs=2e-5)


def test_energy_counted_never_falls() -> None:
    """Where the energy itself falls as water spreads over the plains; and nowhere as the flow rises."""
    s = Surveyed(PLAIN, np.full(3, 0.03), float(SUBDIVIDED), 0.0)
    found = stages(s)
    levels = np.linspace(1.2, 2.4, 400)
    own = np.array([energy_level(s, 28.0, z) for z in levels])
    kept = np.array([[surveyed_stages.stage_energy(found, q, z) for z in levels] for q in (28.0, 28.5, 33.0)])
    assert np.min(np.diff(own)) < -1e-3
    assert np.all(np.diff(kept, axis=1) > -1e-9)
    assert np.all(np.diff(kept, axis=0) > 0.0)
    assert np.all(kept[0] <= own + 2e-5)


def test_ends_of_a_survey() -> None:
    found = stages(section())
    assert surveyed_stages.stage_energy(found, 1.0, -0.1) == inf
    assert surveyed_stages.stage_energy(found, 0.0, 1.0) == 1.0
    assert surveyed_stages.stage_level(found, 1.0, inf) == inf
    assert surveyed_stages.stage_level(found, 0.0, 1.2) == 1.2
    high = surveyed_stages.stage_level(found, 900.0, 12.0)
    assert high == pytest.approx(subcritical_level(section(), 900.0, 12.0), abs=1e-3)


def crest(**changes: object) -> Crest:
    plain = Crest(
        *(sections.rectangle(1.0, 0.03), NO_PLATE, float(crests.GIVEN), 0.7, 8.0, 1.0, 0.0, 1.0, 1.0, 1.6, 0.7, 0.0)
    )
    return plain._replace(**changes)


@pytest.mark.parametrize("below", [0.3, 1.1, 1.5])
def test_a_weir_the_other_way(below: float) -> None:
    """Q = k C b H^1.5, H = h + alpha V^2/2g, with Villemonte's law stretched from the modular limit of 0.7."""
    weir = crest(survey=stages(section()))
    seen = set()
    for flow in (2.0, 6.0, 15.0, 25.0):
        low = max(plain_critical(flow), below, 0.7 + 1e-9)

        def excess(level: float, flow: float = flow) -> float:
            head = level - 0.7
            total = head + min(energy(flow, level) - level, 0.5 * head)
            ratio = max((below - 0.7) / head, (below - 0.7) / total)
            past = min(max((ratio - 0.7) / 0.3, 0.0), 1.0)
            return (1.0 - past**1.5) ** 0.385 * 1.6 * 8.0 * total**1.5 - flow

        expected = low if excess(low) >= 0.0 else brentq(excess, low, 8.0, xtol=1e-12)
        found = weir_state(weir, flow, below, below)
        seen.add(found.regime)
        assert found.level == pytest.approx(expected, abs=2e-5)
        assert found.velocity == pytest.approx(flow / surveyed_area(section(), expected), rel=1e-4)
    assert seen <= {FREE, DROWNED}


def test_a_weir_under_critical_level_in_its_approach() -> None:
    """A crest near the bed that would draw more than the channel can bring: critical level, by a fine walk."""
    found = weir_state(crest(level=0.05, width=14.0, survey=stages(section())), 12.0, 0.1, 0.1)
    assert found.regime == APPROACH_CRITICAL
    assert found.level == pytest.approx(plain_critical(12.0), abs=2e-5)


NO_DECK = bridges.Deck(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def bridge(span: float, rise: float = 20.0, **changes: object) -> bridges.Bridge:
    openings = bridges.Openings(sections.box(span, rise, 0.03), 1.0, 1.0, 0.0)
    groups = bridges.side_by_side(bridges.cleared(openings, 0.0, 0.0))
    plain = bridges.Bridge(groups, sections.rectangle(1.0, 0.03), 0.0, 0.3, 0.5, 0.5, 0.8, 1.0, stages(section()))
    return plain._replace(**changes)


@pytest.mark.parametrize(("flow", "below"), [(8.0, 1.1), (12.0, 1.25), (30.0, 2.2), (25.0, 1.3)])
def test_a_bridge_the_other_way(flow: float, below: float) -> None:
    """Both energy equations with alpha V^2/2g in the channel, choked where the energy below does not do."""
    span = 5.0
    critical = (flow**2 / (GRAVITY * span**2)) ** (1 / 3)

    def inside_head(level: float, share: float) -> float:
        return level + share * (flow / (span * level)) ** 2 / (2 * GRAVITY)

    def channel_head(level: float, share: float) -> float:
        return level + share * (flow / counted(level)) ** 2 / (2 * GRAVITY)

    start = max(below, plain_critical(flow))
    wanted = channel_head(start, 0.5)
    inside = critical
    if inside_head(critical, 0.5) < wanted:
        inside = brentq(lambda z: inside_head(z, 0.5) - wanted, critical, 8.0, xtol=1e-12)
    above = max(inside_head(inside, 1.3), inside_head(critical, 1.3))
    expected = brentq(lambda z: channel_head(z, 1.3) - above, plain_critical(flow * sqrt(1.3)), 9.0, xtol=1e-12)
    found = bridges.bridged(bridge(span), NO_DECK, flow, below)
    assert found.level == pytest.approx(expected, abs=2e-5)
    assert found.energy == pytest.approx(energy(flow, expected), abs=4e-5)
    assert found.regime in (bridges.FREE, bridges.CHOKED)
    assert found.opening_ratio == pytest.approx(span * below / surveyed_area(section(), below), rel=1e-9)


def random_columns(samples: int = 600) -> tuple[Array, Array, list[Array], list[Array]]:
    """Flows, levels below, and the columns of weirs and of bridges with deck and side opening, without approach."""
    rng = np.random.default_rng(11)

    def draw(low: float, high: float) -> Array:
        return rng.uniform(low, high, samples)

    flow, below = np.exp(draw(0.0, 4.3)), draw(0.1, 2.6)
    kind = rng.choice([crests.BROAD_CRESTED, crests.ROUND_NOSED, crests.TRIANGULAR, crests.GIVEN], samples)
    modular = draw(0.3, 0.85)
    weir = [*np.zeros((4, samples)), kind.astype(float), draw(0.2, 1.4), draw(2.0, 12.0), draw(0.3, 2.0)]
    weir += [draw(0.0, 50.0), draw(0.5, 1.5), draw(0.8, 1.2), draw(1.3, 2.0), modular, np.zeros(samples)]
    box = [np.zeros(samples), draw(2.0, 5.0), np.zeros(samples), draw(0.8, 2.0), *np.zeros((2, samples))]
    box += [np.full(samples, 0.03)] * 2
    main = [*box, rng.integers(1, 3, samples).astype(float), np.ones(samples), draw(-0.1, 0.1)]
    side = [*box, rng.integers(0, 2, samples).astype(float), np.ones(samples), draw(0.5, 1.0)]
    shared = [draw(0.1, 0.4), draw(0.2, 0.8), draw(0.3, 0.6), draw(0.7, 0.9), draw(0.7, 1.9), draw(0.0, 0.8)]
    deck = [draw(1.6, 2.5), draw(5.0, 20.0), draw(1.4, 1.7), draw(1.4, 2.5), draw(5.0, 20.0), draw(1.4, 1.7)]
    raft = [np.zeros(samples), np.zeros(samples)]
    road = [np.zeros(samples), *shared, rng.integers(3, size=samples).astype(float), *raft, *deck]
    return flow, below, weir, [*main, *side, *road]


NOTHING = [0.0] * rows.SECTION
SHARED_AT = 2 * rows.OPENINGS


def weirs(survey: SurveyTable, own: list[Array | float], flow: Array, below: Array, weir: list[Array]) -> Array:
    loop = partial(surveyed_rows.surveyed_weir_states, survey, None)
    return run_rows(loop, [*own, *NOTHING, *weir, flow, below, below], len(WeirState._fields) + 1, len(flow))


def crossings(survey: SurveyTable, own: list[Array | float], flow: Array, below: Array, bridge: list[Array]) -> Array:
    loop = partial(surveyed_rows.surveyed_bridge_states, survey, None, None)
    columns = [*own, *bridge[:SHARED_AT], *NOTHING, *bridge[SHARED_AT:], flow, below]
    return run_rows(loop, columns, len(bridges.Bridged._fields) + 1, len(flow))


def test_a_surveyed_trapezoid_is_a_trapezoid() -> None:
    """Every result of weirs and bridges as with the simple section, which is solved by other code."""
    flow, below, weir, bridge = random_columns()
    simple = [float(sections.TRAPEZOID), 10.0, 2.0, inf, 0.0, 0.0, 0.03, 0.03]
    own: list[Array | float] = [0.03, 0.0, 0.0]
    plain = run_rows(rows.weir_states, [*simple, *weir, flow, below, below], len(WeirState._fields), len(flow))
    found = weirs(TRAPEZOID, own, flow, below, weir)
    assert np.max(np.abs(found[0] - plain[0])) < 1e-7
    assert np.mean(found[2] == plain[2]) > 0.999
    columns = [*bridge[:SHARED_AT], *simple, *bridge[SHARED_AT:], flow, below]
    plain = run_rows(rows.bridge_states, columns, len(bridges.Bridged._fields), len(flow))
    found = crossings(TRAPEZOID, own, flow, below, bridge)
    np.testing.assert_allclose(found[:-1], plain, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(found[-1], 1.0, rtol=1e-12)


LAWS = ("flow", "below")


@pytest.mark.parametrize("survey", [VALLEY, PLAIN], ids=["valley", "level plains"])
@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("structure", [weirs, crossings], ids=["weirs", "bridges"])
def test_levels_never_fall(structure: object, law: str, survey: SurveyTable) -> None:
    """Over the whole range, through the levels at which water spreads over the plains."""
    flow, below, weir, bridge = random_columns(200)
    own: list[Array | float] = [*MANNING, 0.0, 0.0]
    columns = weir if structure is weirs else bridge
    before = np.full(flow.size, -inf)
    for step in np.linspace(0.0, 1.0, 31):
        q, z = (flow * (0.2 + step), below) if law == "flow" else (flow, below + 1.5 * step)
        level = structure(survey, own, q, z, columns)[0]  # type: ignore[operator]
        assert np.all(np.isfinite(level))
        assert np.all(level >= before - 1e-7), float(np.max(before - level))
        assert np.all(level >= z)
        before = level


def test_a_bridge_never_falls_when_more_is_blocked() -> None:
    flow, below, _, bridge = random_columns(200)
    own: list[Array | float] = [*MANNING, 0.0, 0.0]
    at = SHARED_AT + 6
    before = np.full(flow.size, -inf)
    for blockage in np.linspace(0.0, 0.95, 20):
        columns = [*bridge[:at], np.full(flow.size, blockage), *bridge[at + 1 :]]
        level = crossings(VALLEY, own, flow, below, columns)[0]
        assert np.all(level >= before - 1e-7)
        before = level


def test_a_bridge_that_contracts_nothing_vanishes_in_a_survey() -> None:
    """A soffit out of reach and openings wider than the whole survey: the level below, unless critical."""
    wide = bridge(60.0)
    for flow, below in ((5.0, 1.0), (20.0, 1.6), (40.0, 2.5)):
        assert bridges.bridge_level(wide, NO_DECK, flow, below) == pytest.approx(below, abs=1e-7)


def test_uneven_flow_counts() -> None:
    """With alpha 1 instead of about 1.7 over the plains the head over the crest is larger by what the velocity head
    lacks."""
    uneven, even = (crest(level=1.0, survey=stages(section(method))) for method in (SUBDIVIDED, HORTON))
    levels = [weir_level(c, 20.0, 0.2, 0.2) for c in (uneven, even)]
    assert 0.002 < levels[1] - levels[0] < 0.2
