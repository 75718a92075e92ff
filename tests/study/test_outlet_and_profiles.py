"""Flaps, bars at the outlet, debris as a volume, roads and crests by profile, rafts on piers: from a study to the level."""
# ruff: noqa: E501  (tables of faults)

from __future__ import annotations

from math import sqrt
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.stats import norm

from overbank.errors import StudyError
from overbank.report.worked import worked_case
from overbank.run import run
from overbank.site.by_hand.steps import Case, Worked
from overbank.site.numbers import Water
from overbank.site.validity import remarks
from overbank.study.build import Problem, build
from overbank.study.load import Study, read_study
from small import ROAD, study
from study.river import BELOW, MEADOW, RIVER, TAILWATER

G2 = 19.62
FLAP = "[element.flap]\nloss = 0.8\n\n"
BARS = "[element.outlet_screen]\nwidth_m = 3.0\nheight_m = 1.5\nbar_m = 0.02\ngap_m = 0.14\n\n"
BLOCKAGE = "blockage = { inflated_beta = { at_zero = 0.2, a = 1.5, b = 2.5, at_one = 0.05 } }\n"
DEPENDENCE = '[[dependence]]\nbetween = ["flow.design_m3_s", "lane.screen.blockage"]\nrank_correlation = 0.4\n'
ROAD_TABLE = "level_m = 32.6\nlength_m = 14.0\n"
PROFILE = "offset_m,level_m\n0,33.1\n10,32.5\n14,32.5\n30,33.4\n"


def problem(path: Path, *changes: tuple[str, str]) -> Problem:
    (path / "road.csv").write_text(PROFILE)
    return build(study(path, *changes))


def worked_at(found: Problem, place: str) -> Worked:
    once = found.site.march(found.medians(), 1)
    return worked_case(Case(found.medians(), place, once))


def lane(found: Problem, **numbers: float) -> dict[str, float]:
    """The culvert alone, still water below at 31.9, which drowns it; 6 m3/s."""
    values = {**found.medians(), "tailwater.level_m": 31.9, "lane.screen.blockage": 0.0, **numbers}
    values["lane.road.level_m"] = values["lane.road.level_m"] + numbers.get("road_up", 0.0)
    results = found.site.march(values, 1).element("lane").results
    return {name: float(value[0]) for name, value in results.items()}


def full_box_outlet(kf: float, tailwater: float = 31.9) -> float:
    """Outlet-control level of the lane's full box, by a plain sum: exit, flap or bars, friction, entrance [m]."""
    area, perimeter, length, n, entrance = 2.4 * 1.5, 7.8, 22.0, 0.014, 0.4
    head = (6.0 / area) ** 2 / G2
    friction = (n * 6.0 / area) ** 2 * (perimeter / area) ** (4.0 / 3.0) * length
    return tailwater + kf * head + friction + (1.0 + entrance) * head


def test_a_flap_on_a_full_barrel_by_a_plain_sum(tmp_path: Path) -> None:
    """HDS-5 p. 34 for the full barrel, Ke 0.4 of its table 12; the flap adds Kf V^2/2g."""
    found = problem(tmp_path, (ROAD, FLAP + ROAD))
    assert lane(found)["outlet_level"] == pytest.approx(in_the_garden(full_box_outlet(0.8), 1.4), abs=2e-4)
    stuck = lane(found, road_up=20.0, **{"lane.flap.shut": 0.6})
    assert stuck["outlet_level"] == pytest.approx(in_the_garden(full_box_outlet(0.8 + shut_loss(0.4)), 1.4), abs=2e-4)


def shut_loss(left: float) -> float:
    """Contraction (Weisbach) and sudden expansion (Borda) behind an opening of a share of the mouth."""
    return (1.0 / (left * (0.62 + 0.38 * left**3)) - 1.0) ** 2


def in_the_garden(energy: float, share: float) -> float:
    """Level in the reach above, 2.5 m wide with sides of 1 in 1.5 on 30.1, with `share` of its velocity head; SciPy."""

    def excess(z: float) -> float:
        y = z - 30.1
        return z + share * (6.0 / ((2.5 + 1.5 * y) * y)) ** 2 / G2 - energy

    return float(brentq(excess, 31.2, energy, xtol=1e-12))


def test_bars_at_the_outlet_by_a_plain_sum(tmp_path: Path) -> None:
    """HDS-5 p. 170, eq. 24: 1.5 (Vg^2 - Vu^2)/2g, Vg between the bars, Vu in the barrel; half of them blocked."""
    found = problem(tmp_path, (ROAD, BARS + ROAD))
    for blocked in (0.0, 0.5):
        between, barrel = 6.0 / (3.0 * 1.5 * 0.875 * (1.0 - blocked)), 6.0 / 3.6
        kf = 1.5 * max(between**2 - barrel**2, 0.0) / barrel**2
        expected = in_the_garden(full_box_outlet(kf), 1.4)
        state = lane(found, road_up=20.0, **{"lane.outlet_screen.blockage": blocked})
        assert state["outlet_level"] == pytest.approx(expected, abs=2e-4)


def test_a_flap_lifts_a_free_outfall_too_and_never_lowers_the_level(tmp_path: Path) -> None:
    """Critical depth and Kf V^2/2g behind the flap, by SciPy; then the level over loss, flow and share shut."""
    found = problem(tmp_path, (ROAD, FLAP + ROAD))
    free = lane(found, **{"tailwater.level_m": 30.2})
    critical = (2.5**2 / 9.81) ** (1.0 / 3.0)
    depth = brentq(lambda y: y - critical - 0.8 * (2.5 / y) ** 2 / G2, critical, 2.0)
    assert free["depth_out"] == pytest.approx(depth, abs=1e-6)
    for name, values in (
        ("lane.flap.loss", np.linspace(0.0, 5.0, 40)),
        ("lane.flap.shut", np.linspace(0.0, 0.95, 40)),
        ("flow.design_m3_s", np.linspace(0.1, 14.0, 60)),
    ):
        for below in (30.2, 31.3, 32.4):
            numbers = {**found.medians(), "tailwater.level_m": below, name: values}
            levels = found.site.levels(numbers, len(values), ("lane",))[0]
            assert np.all(np.diff(levels) >= -1e-7), (name, below)


def test_what_is_said_of_flap_and_bars(tmp_path: Path) -> None:
    found = problem(tmp_path, (ROAD, FLAP.replace("0.8", "0.8\nshut = 0.5") + BARS + ROAD))
    numbers = found.medians()
    said = {remark.words for remark in remarks(found.site, found.site.march(numbers, 1), numbers)}
    assert "flap valve: its loss rests on judgement, not on a published formula" in said
    assert "flap valve stuck: part of the outlet shut" in said
    assert "bars at the outlet: whoever is swept into the barrels is held behind them" in said
    assert "open area of the bars at the outlet outside 1.5 to 3 times the mouths" in said


def test_a_volume_of_debris_lies_on_whatever_screen_stands_there(tmp_path: Path) -> None:
    """0.6 m3, 0.3 m thick, covers 2 m2 of 3.6 by 1.9 m of bars; a screen twice as wide bears half the share."""
    by_volume = (BLOCKAGE, "debris_m3 = { lognormal = { median = 0.6, cov = 0.5 } }\ndebris_thickness_m = 0.3\n")
    found = problem(tmp_path, by_volume, (DEPENDENCE, ""))
    numbers = found.medians()
    culvert = found.site.elements[0]
    assert float(culvert.blocked(numbers)) == pytest.approx(2.0 / (3.6 * 1.9), rel=1e-12)
    assert float(culvert.blocked({**numbers, "lane.screen.width_m": 7.2})) == pytest.approx(
        1.0 / (3.6 * 1.9), rel=1e-12
    )
    assert any("0.6 / 0.3" in step.numbers for step in worked_at(found, "lane").steps)


def test_a_road_by_profile_in_a_run(tmp_path: Path) -> None:
    """What goes over at the level found is the published equation integrated along the road by SciPy."""
    road = (ROAD_TABLE, 'profile = "road.csv"\nshift_m = 0.05\n')
    found = problem(tmp_path, road)
    state = lane(found, **{"flow.design_m3_s": 18.0, "lane.screen.blockage": 0.9})

    def over(x: float) -> float:
        ground = np.interp(x, [0.0, 10.0, 14.0, 30.0], [33.15, 32.55, 32.55, 33.45])
        return 1.55 * max(state["level"] - ground, 0.0) ** 1.5

    assert state["road_flow"] > 1.0
    assert quad(over, 0.0, 30.0, points=[10.0, 14.0], limit=200)[0] == pytest.approx(state["road_flow"], rel=1e-4)
    assert found.medians()["lane.road.level_m"] == pytest.approx(32.55)
    steps = {
        step.symbol: step
        for step in worked_at(problem(tmp_path, road, ("median = 6.0", "median = 40.0")), "lane").steps
    }
    assert steps["\u03a3q"].result == pytest.approx(40.0 - steps["Qb"].result, rel=1e-5)
    assert {"q1", "q2", "q3"} <= set(steps)


def test_a_level_profile_is_a_level_road(tmp_path: Path) -> None:
    (tmp_path / "level.csv").write_text("offset_m,level_m\n5,32.6\n10,32.6\n19,32.6\n")
    levels = []
    for table in (ROAD_TABLE, 'profile = "level.csv"\n'):
        found = problem(tmp_path, (ROAD_TABLE, table))
        values = {**found.medians(), "flow.design_m3_s": np.linspace(1.0, 25.0, 50), "lane.screen.blockage": 0.8}
        levels.append(found.site.levels(values, 50, ("lane",))[0])
    assert levels[1] == pytest.approx(levels[0], abs=1e-7)
    assert np.all(np.diff(levels[1]) >= -1e-9)


UNEVEN = 'kind = "uneven"\nprofile = "crest.csv"\ncoefficient = 1.7\n'
LEVEL = 'kind = "broad_crested"\nlevel_m = 10.8\nbreadth_m = 1.5\nangle_deg = 30\n'
CREST = "offset_m,level_m\n0,11.9\n3,11.5\n9,11.5\n12,11.9\n"
DEBRIS = 'blockage = { beta = { a = 1.2, b = 5.0 }, basis = "judged" }\npattern = "floating_raft"\n'
SIDE = 'side_opening = { shape = "pipe", diameter_m = 1.2, bed_level_m = 11.4 }\n'
RAFT = "pier_raft = { raft_width_m = 4.0, raft_depth_m = 1.2 }\n"


def river(path: Path, *changes: tuple[str, str]) -> Study:
    text = RIVER
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    (path / "crest.csv").write_text(CREST)
    (path / "below.csv").write_text(BELOW)
    (path / "meadow.csv").write_text(MEADOW)
    (path / "study.toml").write_text(text)
    return read_study(path)


def test_an_uneven_crest_in_a_run(tmp_path: Path) -> None:
    found = build(river(tmp_path, (LEVEL, UNEVEN)))
    assert found.medians()["sill.crest.width_m"] == 12.0
    values = {**found.medians(), "flow.design_m3_s": np.linspace(0.5, 60.0, 40)}
    assert np.all(np.diff(found.site.levels(values, 40, ("sill",))[0]) > 0.0)
    state = found.site.march(found.medians(), 1).element("sill").results
    assert 0.0 < float(state["drowned_factor"][0]) <= 1.0
    for level, told in ((9.6, True), (13.2, False)):
        given = build(river(tmp_path, (LEVEL, UNEVEN), (TAILWATER, f"level_m = {level}")))
        worked = worked_at(given, "sill")
        assert bool(worked.steps) == told
        if told:
            assert next(step for step in worked.steps if step.symbol == "\u03a3q").result == pytest.approx(
                30.0, rel=1e-5
            )


def past_a_raft(flow: float, below: float, width: float, depth: float) -> float:
    """Level before 10 m of square openings in a channel of 12 m, both on 10.1; losses 0.5 and 0.3 on the difference."""

    def channel(z: float) -> float:
        return 12.0 * (z - 10.1)

    def openings(z: float) -> float:
        return 10.0 * (z - 10.1) - width * min(depth, z - 10.1)

    def head(z: float, wet: float, share: float) -> float:
        return z + share * (flow / wet) ** 2 / G2

    low = 10.1 + 0.6 * (below - 10.1)
    inside = brentq(lambda z: head(z, openings(z), 0.5) - head(below, channel(below), 0.5), low, below)
    return float(brentq(lambda z: head(z, channel(z), 1.3) - head(inside, openings(inside), 1.3), below, below + 2.0))


def test_a_raft_on_a_pier_takes_its_width_and_depth(tmp_path: Path) -> None:
    """Square openings, all free: one energy balance over the area b y - w min(d, y), by SciPy; then it never lowers.

    Sizes after T. H. Diehl (1997), FHWA-RD-97-028: it hangs from the surface, as wide as the longest sturdy log.
    """
    arch = 'shape = "arch", count = 2, span_m = 6.0, rise_m = 2.8, wall_height_m = 1.4, bed_level_m = 10.1'
    box = 'shape = "box", count = 2, span_m = 5.0, rise_m = 4.0, bed_level_m = 10.1'
    approach = 'section = { shape = "trapezoid", bed_width_m = 12.0, side_slope = 1.5 }, bed_level_m = 10.15 }\nskew = { angle_deg = 20, spans = "along the road" }'
    plain = 'section = { shape = "rectangle", width_m = 12.0 }, bed_level_m = 10.1 }'
    deck = (
        "deck = { level_m = 13.6, length_m = 14.0 }\napproach_road = { level_m = 13.4, length_m = 30.0, coefficient = 1.5 }\n",
        "",
    )
    found = build(
        river(
            tmp_path,
            (arch, box),
            (approach, plain),
            (SIDE, ""),
            (DEBRIS, RAFT),
            deck,
            ("bank_level_m = 13.3", "bank_level_m = 14.0"),
        )
    )
    bridge = next(each for each in found.site.elements if each.id == "road")

    def level(flow: float, below: float, width: float, depth: float) -> float:
        numbers = {**found.medians(), "road.pier_raft.raft_width_m": width, "road.pier_raft.raft_depth_m": depth}
        water = Water(np.array([below]), np.array([below]))
        return float(bridge.headwater(np.array([flow]), water, numbers).level[0])

    for flow, below, width, depth in ((18.0, 11.9, 4.0, 1.2), (12.0, 11.0, 3.0, 2.0), (18.0, 12.2, 0.0, 1.0)):
        expected = past_a_raft(flow, below, width, depth)
        assert level(flow, below, width, depth) == pytest.approx(expected, abs=1e-6)
    for flow, below in ((8.0, 10.6), (25.0, 11.5), (50.0, 13.0)):
        by_width = [level(flow, below, width, 1.5) for width in np.linspace(0.0, 11.0, 23)]
        by_depth = [level(flow, below, 5.0, depth) for depth in np.linspace(0.0, 5.0, 26)]
        by_below = [level(flow, z, 5.0, 1.2) for z in np.linspace(10.2, 14.5, 40)]
        for levels in (by_width, by_depth, by_below):
            assert np.all(np.diff(levels) >= -1e-7)


def test_rafts_in_a_run_and_what_is_said_of_them(tmp_path: Path) -> None:
    wide = "pier_raft = { raft_width_m = { uniform = { low = 6.0, high = 20.0 } }, raft_depth_m = 1.2 }\n"
    given = river(tmp_path, (DEBRIS, wide), ("samples = 1024", "samples = 256"))
    outcome = run(given, only=("headwater", "remarks"))
    said = {remark.words for remark in outcome.remarks}
    assert "raft on a pier wider than the design log, 9 m and a quarter of the channel (from memory)" in said
    assert "rafts from pier to pier: no clear way beside them" in said


ROAD_BESIDE = "approach_road = { level_m = 13.4, length_m = 30.0, coefficient = 1.5 }"


def test_an_approach_road_by_profile(tmp_path: Path) -> None:
    """What goes over deck and road at the level found: the deck by hand, the road integrated along it by SciPy."""
    beside = 'approach_road = { profile = "crest.csv", shift_m = 1.4, coefficient = 1.5 }'
    found = build(river(tmp_path, (ROAD_BESIDE, beside)))
    values = {**found.medians(), "flow.design_m3_s": 70.0}
    state = found.site.march(values, 1).element("road").results
    level, below = float(state["level"][0]), float(found.site.march(values, 1).element("meadow").level[0])

    def over(x: float) -> float:
        head = level - np.interp(x, [0.0, 3.0, 9.0, 12.0], [13.3, 12.9, 12.9, 13.3])
        past = min(max((1.0 - (level - below) / max(head, 1e-9) - 0.8) / 0.2, 0.0), 1.0)
        return 1.5 * max(head, 0.0) ** 1.5 * sqrt(1.0 - past**2)

    deck = 1.55 * 14.0 * max(level - 13.6, 0.0) ** 1.5
    assert below < 13.6 + 0.8 * max(level - 13.6, 0.0)
    expected = deck + quad(over, 0.0, 12.0, points=[3.0, 9.0], limit=400)[0]
    assert expected > 3.0
    assert float(state["deck_flow"][0]) == pytest.approx(expected, rel=1e-3)
    rising = {**found.medians(), "flow.design_m3_s": np.linspace(1.0, 90.0, 60)}
    assert np.all(np.diff(found.site.levels(rising, 60, ("road",))[0]) > 0.0)


DECK = "deck = { level_m = 13.6, length_m = 14.0 }"


def test_a_deck_by_profile(tmp_path: Path) -> None:
    """A level profile is the level deck; a sagging one integrated along it by SciPy, drowned from below too; by hand."""
    (tmp_path / "level").mkdir()
    (tmp_path / "level" / "deck.csv").write_text("offset_m,level_m\n0,13.6\n14,13.6\n")
    level = build(river(tmp_path / "level", (DECK, 'deck = { profile = "deck.csv" }')))
    plain = build(river(tmp_path))
    flows = {**plain.medians(), "flow.design_m3_s": np.linspace(20.0, 95.0, 16)}
    same = [each.site.levels({**each.medians(), **flows}, 16, ("road",))[0] for each in (plain, level)]
    np.testing.assert_allclose(same[1], same[0], atol=1e-6)
    (tmp_path / "sag").mkdir()
    (tmp_path / "sag" / "deck.csv").write_text("offset_m,level_m\n0,14.0\n6,13.4\n14,14.2\n")
    found = build(river(tmp_path / "sag", (DECK, 'deck = { profile = "deck.csv" }'), (ROAD_BESIDE, "")))
    drowned = 0
    for flow in (60.0, 90.0, 120.0):
        values = {**found.medians(), "flow.design_m3_s": flow}
        once = found.site.march(values, 1)
        state = {name: float(each[0]) for name, each in once.element("road").results.items()}
        below = float(once.element("meadow").level[0])
        drowned += below > 13.4

        def over(x: float, level: float = state["level"], below: float = below) -> float:
            head = level - np.interp(x, [0.0, 6.0, 14.0], [14.0, 13.4, 14.2])
            past = min(max((1.0 - (level - below) / max(head, 1e-9) - 0.8) / 0.2, 0.0), 1.0)
            return 1.55 * max(head, 0.0) ** 1.5 * sqrt(1.0 - past**2)

        assert state["deck_flow"] == pytest.approx(quad(over, 0.0, 14.0, points=[6.0], limit=400)[0], rel=2e-3)
    assert drowned > 0


def test_a_drowned_road_by_profile_is_worked_by_hand(tmp_path: Path) -> None:
    """Its parts, held back as the road's curve has it, add up to what the program has over the road."""
    found = problem(tmp_path, (ROAD_TABLE, 'profile = "road.csv"\n'), (BLOCKAGE, "blockage = 0.9\n"), (DEPENDENCE, ""))
    values = {**found.medians(), "flow.design_m3_s": 9.0, "tailwater.level_m": 32.95}
    once = found.site.march(values, 1)
    worked = worked_case(Case(values, "lane", once))
    assert not worked.refusal
    said = {step.symbol: step.result for step in worked.steps}
    assert said["Σq"] == pytest.approx(float(once.element("lane").results["road_flow"][0]), rel=1e-6)
    held = [said[f"d{k}"] / said[f"q{k}"] for k in (1, 2, 3) if f"d{k}" in said]
    assert all(0.0 < share <= 1.0 + 1e-6 for share in held), held
    assert min(held) < 1.0


FAULTS = [
    ((ROAD, FLAP.replace("0.8", "-1") + ROAD), "lane.flap.loss", "a loss coefficient"),
    ((ROAD, FLAP.replace("0.8", "0.8\nshut = 1.0") + ROAD), "lane.flap.shut", "a share of the mouth"),
    ((ROAD, BARS.replace("gap_m = 0.14\n", "") + ROAD), "lane.outlet_screen.gap_m", "the clear gap between bars"),
    ((BLOCKAGE, "debris_m3 = 0.6\n"), "lane.screen.debris_m3", "debris_m3 and debris_thickness_m together"),
    ((BLOCKAGE, BLOCKAGE + "debris_m3 = 0.6\ndebris_thickness_m = 0.2\n"), "lane.screen.blockage", "or debris_m3"),
    (('id = "lane"\n', 'id = "lane"\ninflow_m3_s = -2\n'), "lane.inflow_m3_s", "a flow [m3/s]"),
    ((ROAD_TABLE, 'profile = "none.csv"\n'), "lane.road.profile", "the name of a CSV file"),
    (
        (ROAD_TABLE, 'profile = "road.csv"\nlength_m = 3.0\n'),
        "lane.road.length_m",
        "one of the keys profile, shift_m, coefficient",
    ),
    ((ROAD_TABLE, 'profile = "road.csv"\nshift_m = -3.0\n'), "lane.road.profile", "a road above the inlet invert"),
    ((ROAD_TABLE, 'profile = "short.csv"\n'), "lane.road.profile", "at least two rows"),
]


@pytest.mark.parametrize(("change", "where", "expected"), FAULTS)
def test_what_cannot_be_is_refused(tmp_path: Path, change: tuple[str, str], where: str, expected: str) -> None:
    (tmp_path / "short.csv").write_text("offset_m,level_m\n5,32.6\n")
    with pytest.raises(StudyError) as refused:
        problem(tmp_path, change, (DEPENDENCE, ""))
    assert where in str(refused.value)
    assert expected in str(refused.value)


@pytest.mark.parametrize(
    ("change", "where", "expected"),
    [
        ((DEBRIS, DEBRIS + RAFT), "road.pier_raft", "rafts on piers, or a blocked share"),
        ((DEBRIS, RAFT.replace("raft_depth_m = 1.2", "raft_depth_m = -1")), "road.pier_raft.raft_depth_m", "a depth"),
        ((LEVEL, UNEVEN + "shift_m = -2.5\n"), "sill.crest.profile", "a crest above the bed of the approach"),
        (
            (ROAD_BESIDE, 'approach_road = { profile = "crest.csv", shift_m = -2.0 }'),
            "road.approach_road.profile",
            "an approach road",
        ),
        ((DECK, 'deck = { profile = "crest.csv" }'), "road.deck.profile", "a deck not below the soffit"),
        ((LEVEL, UNEVEN + "width_m = 3\n"), "sill.crest.width_m", "one of the keys kind, profile"),
    ],
)
def test_what_cannot_be_in_a_river_is_refused(
    tmp_path: Path, change: tuple[str, str], where: str, expected: str
) -> None:
    with pytest.raises(StudyError) as refused:
        build(river(tmp_path, change))
    assert where in str(refused.value)
    assert expected in str(refused.value)


def test_flow_that_joins_goes_through_what_lies_below(tmp_path: Path) -> None:
    """2 m3/s join above the lane: the same water there as with that flow from the top, and less in the garden above."""
    joined = problem(
        tmp_path, ('id = "lane"\n', 'id = "lane"\ninflow_m3_s = { lognormal = { median = 2.0, cov = 0.3 } }\n')
    )
    numbers = joined.medians()
    assert numbers["lane.inflow_m3_s"] == pytest.approx(2.0)
    got = joined.site.march(numbers, 1)
    whole = joined.site.march({**numbers, "lane.inflow_m3_s": 0.0, "flow.design_m3_s": 8.0}, 1)
    assert got.element("lane").level == pytest.approx(whole.element("lane").level, abs=1e-12)
    garden = got.element("garden").results
    area = 2.5 * garden["depth"] + 1.5 * garden["depth"] ** 2
    assert garden["velocity"] * area == pytest.approx(6.0, rel=1e-9)
    assert got.element("garden").level < whole.element("garden").level
    assert got.flow[0] == pytest.approx(6.0)
    said = {remark.words for remark in remarks(joined.site, got, numbers)}
    assert "flow joins here: no energy is counted as lost where it joins" in said
    steps = {step.symbol: step for step in worked_at(joined, "lane").steps}
    assert steps["Q"].result == pytest.approx(8.0)


def test_flow_that_joins_in_a_run(tmp_path: Path) -> None:
    """As its own uncertain number; every structure's influence is found with the flow that goes through it."""
    line = 'inflow_m3_s = { lognormal = { median = 2.0, cov = 0.3 }, basis = "invented" }\n'
    given = study(tmp_path, ('id = "garden"\n', 'id = "garden"\n' + line), ("samples = 4096", "samples = 256"))
    outcome = run(given, only=("headwater", "medians"))
    assert "garden.inflow_m3_s" in outcome.problem.inputs.names
    assert outcome.medians.outcome.element("garden").level > 30.1
    plain = run(study(tmp_path, ("samples = 4096", "samples = 256")), only=("headwater",))
    assert outcome.headwater.quantiles[0.5].value > plain.headwater.quantiles[0.5].value


def test_inverts_whose_distributions_overlap(tmp_path: Path) -> None:
    """Laid almost flat, both inverts surveyed to 30 mm: the share of barrels that rise is that of two normals."""
    inverts = "upstream_invert_m = 30.10, downstream_invert_m = 30.00"
    unsure = (
        'upstream_invert_m = { normal = { mean = 30.02, sd = 0.03 }, basis = "invented" }, '
        'downstream_invert_m = { normal = { mean = 30.00, sd = 0.03 }, basis = "invented" }'
    )
    outcome = run(
        study(tmp_path, (inverts, unsure), ("samples = 4096", "samples = 1024")), only=("headwater", "remarks")
    )
    rise = "barrels that rise downstream: the inlets of HDS-5 were tested on falling ones"
    share = next(remark.share for remark in outcome.remarks if remark.words == rise)
    assert share == pytest.approx(norm.cdf(-0.02 / (0.03 * sqrt(2.0))), abs=0.01)
    assert np.isfinite(outcome.headwater.quantiles[0.5].value)
