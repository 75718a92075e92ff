"""The usual design checks: margins by hand, and against closed forms and SciPy on whole marches."""

from __future__ import annotations

from math import inf, nan, pi, sqrt

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from overbank.hydraulics import crossing
from overbank.hydraulics.tables import inlets
from overbank.site.bridge import Bridge
from overbank.site.culvert import Culvert, Group
from overbank.site.design_checks import (
    FILLINGS,
    FULL_BY_HEADWATER,
    FULL_BY_TAILWATER,
    FULL_SOMEWHERE,
    PART_FULL,
    SHUT,
    design_checks,
    fillings,
)
from overbank.site.long_section import long_section
from overbank.site.numbers import Column
from overbank.site.row import ElementOutcome, Site, SiteOutcome
from overbank.site.tailwater import FixedLevel

BOX_EDGE = inlets()["box", "wingwalls 30 to 75 deg"]
PIPE_EDGE = next(entry for (shape, _), entry in inlets().items() if shape == "pipe")
GRAVITY = 9.81


def numbers(**changes: Column) -> dict[str, Column]:
    """A box of 2.4 by 1.5 m, 40 m long, falling by 0.1 m, behind a screen; double underscores stand for dots."""
    known: dict[str, Column] = {
        "flow.design_m3_s": 6.0,
        "tailwater.level_m": 30.5,
        "lane.barrel.count": 1.0,
        "lane.barrel.span_m": 2.4,
        "lane.barrel.rise_m": 1.5,
        "lane.barrel.length_m": 40.0,
        "lane.barrel.upstream_invert_m": 30.1,
        "lane.barrel.downstream_invert_m": 30.0,
        "lane.barrel.manning_n": 0.014,
        "lane.barrel.bed_manning_n": 0.014,
        "lane.inlet.head_factor": 1.0,
        "lane.inlet.entrance_loss": 0.4,
        "lane.inlet.exit_loss": 1.0,
        "lane.screen.width_m": 5.0,
        "lane.screen.height_m": 2.0,
        "lane.screen.bar_m": 0.020,
        "lane.screen.gap_m": 0.125,
        "lane.screen.inclination_deg": 60.0,
        "lane.screen.shape_factor": 2.42,
        "lane.screen.blockage": np.array([0.0, 0.5, 0.9]),
        "lane.screen.pattern": 0.0,
        "lane.screen.sill_level_m": 30.1,
        "lane.screen.overflow_coefficient": 1.7,
        "lane.asked.freeboard_to_soffit_m": 0.3,
        "lane.asked.screen_area_ratio": 3.0,
    }
    return known | {name.replace("__", "."): value for name, value in changes.items()}


def without_screen(**changes: Column) -> dict[str, Column]:
    left = {name: value for name, value in numbers(**changes).items() if ".screen." not in name}
    return {"lane.blockage": 0.0, "lane.pattern": 0.0, **left}


LANE = Culvert("lane", "box", BOX_EDGE, has_screen=False, has_road=False)
SCREENED = Culvert("lane", "box", BOX_EDGE, has_screen=True, has_road=False)


def given(tailwater: float, structure: Culvert | None = None, room: float = 1.5, **results: list[float]) -> SiteOutcome:
    """What a march would hand over, with the results that a hand chose; `room` from bed or silt to the roof."""
    found = {name: np.array(values) for name, values in results.items()}
    found["free_height"] = room - np.maximum(found["depth_in"], found["depth_out"])
    level = found["barrel_level"]
    element = ElementOutcome(structure or LANE, level, None, {"level": level, **found})
    flow = np.full(level.size, 6.0)
    return SiteOutcome(flow, np.full(level.size, tailwater), (element,), (flow,))


def values(outcome: SiteOutcome, known: dict[str, Column]) -> dict[str, np.ndarray]:
    return {check.name: check.values for check in design_checks(outcome, known)}


def test_freeboard_by_hand() -> None:
    """Soffits at 31.6 and 31.5 m; the lesser free height of both ends counts, and pressure makes it negative."""
    outcome = given(
        30.5,
        depth_in=[1.2, 1.0, 1.7, 0.0, nan],
        depth_out=[1.0, 1.3, 1.6, 0.0, nan],
        barrel_level=[31.4, 31.6, 32.1, inf, nan],
        regime=[3.0, 1.0, 5.0, 9.0, nan],
    )
    checks = design_checks(outcome, without_screen())
    barrel, inlet = checks
    np.testing.assert_allclose(barrel.values, [0.3, 0.2, -0.2, -inf, nan], atol=1e-12)
    np.testing.assert_allclose(inlet.values, [0.2, 0.0, -0.5, -inf, nan], atol=1e-12)
    np.testing.assert_allclose(barrel.margins, [0.0, -0.1, -0.5, -inf, nan], atol=1e-12)
    assert [check.asked_by for check in checks] == ["lane.asked.freeboard_to_soffit_m"] * 2
    assert [(check.asked, check.unit) for check in checks] == [(0.3, "m")] * 2


def test_silt_takes_its_height_from_the_free_one() -> None:
    """A fifth of a box of 1.5 m is 0.3 m of silt; depths count from its top."""
    known = without_screen(lane__blockage=0.2, lane__pattern=2.0)
    outcome = given(30.5, room=1.2, depth_in=[1.0], depth_out=[0.7], barrel_level=[31.5], regime=[3.0])
    site = Site((LANE,), FixedLevel())
    assert values(outcome, known)["freeboard_to_soffit_m"] == pytest.approx([0.2])
    drawn = long_section(site, known, known, 1)
    results = site.march(known).elements[0].results
    assert drawn[1].level - 30.0 == pytest.approx(0.3 + results["depth_out"])
    assert drawn[2].level - 30.1 == pytest.approx(0.3 + results["depth_in"])


AREAS = {
    "box": ({"span_m": 2.4, "rise_m": 1.5}, 3.6),
    "pipe": ({"diameter_m": 1.8}, pi * 0.81),
    "arch": ({"span_m": 2.0, "rise_m": 1.8, "wall_height_m": 0.8}, 1.6 + pi / 2),  # walls and half a circle
    "ellipse": ({"span_m": 2.4, "rise_m": 1.5}, pi * 1.2 * 0.75),
}


@pytest.mark.parametrize("shape", AREAS)
def test_screen_area_by_hand(shape: str) -> None:
    """5 by 2 m of screen, of which gaps of 125 mm between bars of 20 mm are open, over two barrels."""
    sizes, area = AREAS[shape]
    known = numbers(lane__barrel__count=2.0)
    known |= {f"lane.barrel.{key}": size for key, size in sizes.items()}
    culvert = Culvert("lane", shape, BOX_EDGE, has_screen=True, has_road=False)
    depths = {"depth_in": [0.5] * 3, "depth_out": [0.5] * 3}
    outcome = given(30.5, culvert, **depths, barrel_level=[31.0] * 3, regime=[3.0] * 3)
    checks = {check.name: check for check in design_checks(outcome, known)}
    clean = 10.0 * 125 / 145 / (2.0 * area)
    np.testing.assert_allclose(checks["screen_area_ratio"].values, [clean] * 3, rtol=1e-12)
    np.testing.assert_allclose(checks["screen_area_ratio"].margins, [clean - 3.0] * 3, rtol=1e-12)
    blocked = checks["blocked_screen_area_ratio"]
    np.testing.assert_allclose(blocked.values, [clean, 0.5 * clean, 0.1 * clean], rtol=1e-12)
    assert (blocked.asked, blocked.asked_by, blocked.unit) == (1.0, "", "")


def beside(**changes: Column) -> dict[str, Column]:
    """Relief barrels like the main ones, changed as told, in the table of numbers; both without a screen."""
    known = without_screen()
    groups = ("barrel.", "inlet.", "blockage", "pattern")
    own = {name.removeprefix("lane."): value for name, value in known.items()}
    known |= {f"lane.relief.{name}": value for name, value in own.items() if name.startswith(groups)}
    return known | {f"lane.relief.{name.replace('__', '.')}": value for name, value in changes.items()}


BOTH = Site((Culvert("lane", "box", BOX_EDGE, False, False, relief=Group("box", BOX_EDGE)),), FixedLevel())


@pytest.mark.parametrize("tailwater", [30.5, 31.8])
def test_relief_barrels_like_the_main_ones_have_the_same_figures(tailwater: float) -> None:
    """Each takes half the flow: as two main barrels with no relief."""
    known = beside() | {"flow.design_m3_s": 12.0, "tailwater.level_m": tailwater}
    outcome = BOTH.march(known)
    found = values(outcome, known)
    two = known | {"lane.barrel.count": 2.0}
    alone = Site((LANE,), FixedLevel())
    expected = values(alone.march(two), two)
    assert found.keys() == {*expected, *(f"relief_{name}" for name in expected)}
    for name, value in found.items():
        assert value == pytest.approx(expected[name.removeprefix("relief_")], abs=1e-5), name
    main, relief = fillings(outcome, known)
    assert (main.element, relief.element) == ("lane", "lane.relief")
    assert relief.codes == main.codes
    assert {check.asked_by for check in design_checks(outcome, known)} == {"lane.asked.freeboard_to_soffit_m"}


def test_relief_barrels_above_the_water_are_dry() -> None:
    """Bed 3 m up: the whole rise of 1.5 m is free in them, and at the inlet all but what the pool lacks."""
    known = beside(barrel__upstream_invert_m=33.1, barrel__downstream_invert_m=33.0)
    outcome = BOTH.march(known)
    found = values(outcome, known)
    assert found["relief_freeboard_to_soffit_m"] == pytest.approx([1.5])
    assert found["relief_soffit_above_headwater_m"] == pytest.approx(34.6 - outcome.elements[0].level)
    assert fillings(outcome, known)[1].codes == [PART_FULL]


def test_relief_barrels_full_by_the_tailwater_beside_main_ones_that_are_not() -> None:
    """Lower than the main barrels by 0.6 m, their soffits are below a tailwater of 31.2 m."""
    known = beside(barrel__upstream_invert_m=29.5, barrel__downstream_invert_m=29.4)
    known["tailwater.level_m"] = 31.2
    main, relief = fillings(BOTH.march(known), known)
    assert relief.codes == [FULL_BY_TAILWATER]
    assert main.codes == [PART_FULL]


def test_air_gap_at_a_bridge() -> None:
    """The lowest soffit counts; what is asked comes from the study."""
    bridge = Bridge("road", ("box",), "rectangle", False, False, has_deck=False, has_approach_road=False)
    level = np.array([12.3])
    element = ElementOutcome(bridge, level, None, {"level": level, "air_gap": np.array([0.45])})
    outcome = SiteOutcome(np.array([30.0]), np.array([12.0]), (element,), (np.array([30.0]),))
    (check,) = design_checks(outcome, {"road.asked.air_gap_m": 0.6})
    assert check.margins == pytest.approx([-0.15])
    assert (check.name, check.unit) == ("air_gap_m", "m")


STATES = [
    # tailwater, regime, depth in, depth out, how the barrel flows; soffit of the outlet at 31.5, height 1.5
    (30.5, crossing.OUTLET_FREE_SURFACE, 1.2, 1.0, PART_FULL),
    (30.5, crossing.OUTLET_PART_FULL, 1.6, 1.2, FULL_SOMEWHERE),
    (30.5, crossing.OUTLET_PART_FULL, 1.9, 1.48, FULL_BY_HEADWATER),
    (30.5, crossing.OUTLET_FULL, 1.9, 1.5, FULL_BY_HEADWATER),
    (31.6, crossing.OUTLET_FULL, 1.7, 1.6, FULL_BY_TAILWATER),
    (31.6, crossing.OUTLET_FREE_SURFACE, 1.4, 1.6, FULL_SOMEWHERE),
    (30.5, crossing.INLET_DROWNED, 1.5, 1.5, PART_FULL),
    (31.6, crossing.INLET_DROWNED, 1.7, 1.6, FULL_SOMEWHERE),
    (30.5, crossing.NO_WAY_THROUGH, 0.0, 0.0, SHUT),
]


@pytest.mark.parametrize(("tailwater", "regime", "depth_in", "depth_out", "state"), STATES)
def test_how_a_barrel_flows(tailwater: float, regime: int, depth_in: float, depth_out: float, state: int) -> None:
    outcome = given(tailwater, depth_in=[depth_in], depth_out=[depth_out], barrel_level=[32.0], regime=[float(regime)])
    (found,) = fillings(outcome, without_screen())
    assert found.codes == [state]
    assert FILLINGS[state]


def test_no_solution_has_no_state() -> None:
    outcome = given(30.5, depth_in=[nan], depth_out=[nan], barrel_level=[nan], regime=[nan])
    (found,) = fillings(outcome, without_screen())
    assert np.isnan(found.codes).all()


# --- whole marches ------------------------------------------------------------------------------------------


def friction_slope(flow: float, area: float, perimeter: float) -> float:
    return float((0.014 * flow / area) ** 2 * (perimeter / area) ** (4 / 3))


def marched(site: Site, known: dict[str, Column], samples: int = 1) -> tuple[dict[str, np.ndarray], np.ndarray]:
    outcome = site.march(known, samples)
    return values(outcome, known), fillings(outcome, known)[0].codes


def test_a_full_barrel_by_mannings_formula() -> None:
    """Tailwater 0.3 m above the soffit: the pressure line rises by Sf L, the soffit by S L."""
    found, codes = marched(Site((LANE,), FixedLevel()), without_screen(tailwater__level_m=31.8))
    rise_of_line = friction_slope(6.0, 3.6, 2 * (2.4 + 1.5)) * 40.0
    freeboard = min(31.5 - 31.8, 31.6 - (31.8 + rise_of_line))
    assert found["freeboard_to_soffit_m"] == pytest.approx([freeboard], abs=1e-6)
    assert codes == [FULL_BY_TAILWATER]
    velocity_head = (6.0 / 3.6) ** 2 / (2 * GRAVITY)
    headwater = 31.8 + rise_of_line + 1.4 * velocity_head
    assert found["soffit_above_headwater_m"] == pytest.approx([31.6 - headwater], abs=1e-5)


def test_normal_flow_in_a_barrel() -> None:
    """Tailwater at normal depth, by Manning's formula solved with SciPy: the same free height all along."""
    normal = brentq(lambda y: friction_slope(6.0, 2.4 * y, 2.4 + 2 * y) - 0.1 / 40.0, 0.2, 1.4)
    known = without_screen(tailwater__level_m=30.0 + normal)
    found, codes = marched(Site((LANE,), FixedLevel()), known)
    assert found["freeboard_to_soffit_m"] == pytest.approx([1.5 - normal], abs=1e-6)
    assert codes == [PART_FULL]


def test_a_free_outfall_against_an_ode_solver() -> None:
    """From critical depth (q^2/g)^(1/3) at the outlet of a level barrel the surface rises to the inlet (SciPy)."""
    flow, critical = 6.0, (6.0**2 / 2.4**2 / GRAVITY) ** (1 / 3)

    def surface(_: float, y: np.ndarray) -> np.ndarray:
        area, perimeter = 2.4 * y, 2.4 + 2 * y
        slope = (0.014 * flow / area) ** 2 * (perimeter / area) ** (4 / 3)
        return np.asarray(slope / (1.0 - flow**2 * 2.4 / (GRAVITY * area**3)))

    solved = solve_ivp(surface, (0.0, 40.0), [critical * (1 + 1e-7)], method="Radau", rtol=1e-9, atol=1e-11)
    known = without_screen(lane__barrel__upstream_invert_m=30.0, tailwater__level_m=29.0)
    found, codes = marched(Site((LANE,), FixedLevel()), known)
    assert found["freeboard_to_soffit_m"] == pytest.approx([1.5 - solved.y[0, -1]], abs=2e-4)
    assert codes == [PART_FULL]


def test_a_long_pipe_filled_by_its_headwater() -> None:
    """The pipe's full capacity (Manning) is less than a quarter of the flow, so that it fills; its outlet is free."""
    known = without_screen(lane__barrel__diameter_m=1.0, tailwater__level_m=30.2, lane__barrel__length_m=200.0)
    known["flow.design_m3_s"] = np.array([0.2, 4.5])
    pipe = Culvert("lane", "pipe", PIPE_EDGE, has_screen=False, has_road=False)
    full_capacity = pi / 4 / 0.014 * 0.25 ** (2 / 3) * sqrt(0.1 / 200.0)
    assert 0.2 < full_capacity < 4.5 / 4
    found, codes = marched(Site((pipe,), FixedLevel()), known, 2)
    assert codes.tolist() == [PART_FULL, FULL_BY_HEADWATER]
    assert found["freeboard_to_soffit_m"][0] > 0.0 > found["freeboard_to_soffit_m"][1]


def test_margins_fall_as_the_tailwater_rises() -> None:
    levels = np.linspace(30.0, 33.0, 400)
    found, codes = marched(Site((LANE,), FixedLevel()), without_screen(tailwater__level_m=levels), 400)
    for name in ("freeboard_to_soffit_m", "soffit_above_headwater_m"):
        assert np.max(np.diff(found[name])) < 1e-5
    assert np.all(np.diff(codes) >= 0)
    assert set(codes) == {PART_FULL, FULL_SOMEWHERE, FULL_BY_TAILWATER}


def test_nothing_gets_through_a_shut_culvert() -> None:
    found, codes = marched(Site((LANE,), FixedLevel()), without_screen(lane__blockage=1.0))
    assert codes == [SHUT]
    assert found["freeboard_to_soffit_m"] == [-inf]
    assert found["soffit_above_headwater_m"] == [-inf]
