"""Any number of openings, each at its bed, and openings over a surveyed bed: from a study to the level."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from overbank.errors import StudyError
from overbank.report.worked import worked_case
from overbank.site.by_hand.steps import Case
from overbank.study.build import Problem, build
from overbank.study.load import read_study

G2 = 19.62
STUDY = """\
title = "A bridge of many openings (invented)"

[run]
samples = 64
replicates = 2
seed = 3

[decision]
target_probability = 0.05
assurance = 0.9

[flow]
design_m3_s = { lognormal = { median = 30.0, cov = 0.2 }, basis = "invented" }

[tailwater]
level_m = 12.0

[[element]]
kind = "bridge"
id = "road"
bank_level_m = 14.0
approach = { bed_level_m = 10.0, section = { shape = "rectangle", width_m = 20.0 } }
opening = OPENING
FURTHER
"""
BOX = '{ shape = "box", span_m = 5.0, rise_m = 3.0, bed_level_m = 10.0 }'
BED = "offset_m,level_m\n0,11.2\n2,10.4\n4,10.0\n6,10.3\n8,11.5\n"


def bridge(folder: Path, opening: str, *further: str, more: str = "") -> Problem:
    lists = f"further_openings = [{', '.join(further)}]" if further else ""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "bed.csv").write_text(BED)
    (folder / "study.toml").write_text(STUDY.replace("OPENING", opening).replace("FURTHER", f"{lists}\n{more}"))
    return build(read_study(folder / "study.toml"))


def level(found: Problem, **numbers: float) -> float:
    return float(found.site.march({**found.medians(), **numbers}, 1).element("road").level[0])


def test_three_like_groups_are_one_group_of_three(tmp_path: Path) -> None:
    one = bridge(tmp_path / "one", BOX.replace("shape", "count = 3, shape"))
    three = bridge(tmp_path / "three", BOX, BOX, BOX)
    assert len(three.site.elements[0].groups) == 3
    assert "road.further_opening_2.span_m" in three.medians()
    for flow in (10.0, 40.0, 120.0):
        for below in (11.0, 12.5, 13.6):
            water = {"flow.design_m3_s": flow, "tailwater.level_m": below}
            assert level(three, **water) == pytest.approx(level(one, **water), abs=1e-6)


def by_energy(flow: float, below: float, area_at: object, low: float) -> float:
    """Level upstream of openings with a free surface: expansion 0.5 and contraction 0.3 on velocity heads, by SciPy."""

    def head(z: float, share: float, area: float) -> float:
        return z + share * (flow / area) ** 2 / G2

    under = head(below, 0.5, 20.0 * (below - 10.0))
    inside = brentq(lambda z: head(z, 0.5, area_at(z)) - under, low, under, xtol=1e-13)  # type: ignore[operator]
    above = head(inside, 1.3, area_at(inside))  # type: ignore[operator]
    return float(brentq(lambda z: head(z, 1.3, 20.0 * (z - 10.0)) - above, below, above, xtol=1e-13))


def test_unlike_openings_at_beds_of_their_own_by_scipy(tmp_path: Path) -> None:
    """With a free surface the same velocity in all: their areas add up. Four groups, one dry."""
    wide = '{ shape = "box", span_m = 3.0, rise_m = 2.5, bed_level_m = 10.8 }'
    pair = '{ shape = "box", span_m = 1.5, rise_m = 2.0, bed_level_m = 11.3, count = 2 }'
    dry = '{ shape = "pipe", diameter_m = 1.0, bed_level_m = 13.0 }'
    found = bridge(tmp_path, BOX, wide, pair, dry)

    def area(z: float) -> float:
        return 5.0 * (z - 10.0) + 3.0 * max(z - 10.8, 0.0) + 3.0 * max(z - 11.3, 0.0)

    for flow in (8.0, 16.0, 20.0):
        water = {"flow.design_m3_s": flow, "tailwater.level_m": 12.4}
        assert level(found, **water) == pytest.approx(by_energy(flow, 12.4, area, 11.6), abs=1e-6)


def test_over_a_surveyed_bed_by_scipy(tmp_path: Path) -> None:
    """The area of the polygon between bed and water; strips of a tenth of its fall are within a millimetre."""
    found = bridge(tmp_path, '{ shape = "surveyed", bed = "bed.csv", rise_m = 3.0 }')
    medians = found.medians()
    assert medians["road.opening.span_m"] == 8.0
    assert medians["road.opening.bed_level_m"] == 10.0
    points = [tuple(map(float, line.split(","))) for line in BED.splitlines()[1:]]

    def area(z: float) -> float:
        total = 0.0
        for (x1, z1), (x2, z2) in pairwise(points):
            x = np.linspace(x1, x2, 2001)
            depth = np.maximum(z - (z1 + (z2 - z1) * (x - x1) / (x2 - x1)), 0.0)
            total += float(np.trapezoid(depth, x))
        return total

    for flow in (8.0, 14.0, 20.0):
        water = {"flow.design_m3_s": flow, "tailwater.level_m": 12.4}
        assert level(found, **water) == pytest.approx(by_energy(flow, 12.4, area, 11.8), abs=1e-3)


def test_a_level_surveyed_bed_is_a_box_whatever_governs(tmp_path: Path) -> None:
    found = bridge(tmp_path / "box", BOX)
    folder = tmp_path / "flat"
    folder.mkdir()
    (folder / "level.csv").write_text("offset_m,level_m\n0,9.5\n5,9.5\n")
    flat = bridge(folder, '{ shape = "surveyed", bed = "level.csv", rise_m = 3.0, shift_m = 0.5 }')
    for flow in (5.0, 25.0, 60.0):
        for below in (10.5, 12.0, 13.4):
            water = {"flow.design_m3_s": flow, "tailwater.level_m": below}
            assert level(flat, **water) == pytest.approx(level(found, **water), abs=1e-6)


def test_the_level_never_falls_over_many_openings(tmp_path: Path) -> None:
    arch = '{ shape = "arch", span_m = 3.0, rise_m = 2.2, wall_height_m = 0.9, bed_level_m = 10.6 }'
    found = bridge(tmp_path, '{ shape = "surveyed", bed = "bed.csv", rise_m = 2.4 }', arch, more="blockage = 0.0")
    rng, count = np.random.default_rng(4), 400
    base = {
        "flow.design_m3_s": rng.uniform(2, 90, count),
        "tailwater.level_m": rng.uniform(10.3, 14, count),
        "road.blockage": rng.uniform(0, 0.9, count),
        "road.pattern": rng.integers(0, 3, count).astype(float),
    }
    before = found.site.march({**found.medians(), **base}, count).element("road").level
    for name, more in (("flow.design_m3_s", 1.3), ("road.blockage", None), ("tailwater.level_m", None)):
        step = base[name] * more if more else base[name] + 0.05
        after = found.site.march({**found.medians(), **base, name: step}, count).element("road").level
        assert np.all(after >= before - 1e-6), name


RAFT = "pier_raft = { count = 2, raft_width_m = 1.2, raft_depth_m = 0.8 }"


@pytest.mark.parametrize("what", ["groups", "bed", "rafts"])
def test_worked_by_hand(tmp_path: Path, what: str) -> None:
    """Flows of all groups by areas and one velocity add up to that through the openings; choked ones say why not."""
    surveyed = '{ shape = "surveyed", bed = "bed.csv", rise_m = 3.0 }'
    three = '{ shape = "box", span_m = 5.0, rise_m = 3.0, bed_level_m = 10.0, count = 3 }'
    given = {"groups": (BOX, BOX.replace("10.0", "10.8")), "bed": (surveyed,), "rafts": (three,)}[what]
    found = bridge(tmp_path, *given, more=RAFT if what == "rafts" else "")
    for flow, below in ((18.0, 12.4), (25.0, 12.7)):
        numbers = {**found.medians(), "flow.design_m3_s": flow, "tailwater.level_m": below}
        once = found.site.march(numbers, 1)
        worked = worked_case(Case(numbers, "road", once))
        assert not worked.refusal
        said = {step.symbol: step.result for step in worked.steps}
        assert said["Σq"] == pytest.approx(said["Qo"], rel=1e-5)
        assert said["z"] == pytest.approx(float(once.element("road").level[0]), abs=1e-9)
        assert said["E1"] == pytest.approx(said["zo"] + said["u"] * said["ho"], abs=1e-9)
    choked = {**found.medians(), "flow.design_m3_s": 90.0, "tailwater.level_m": 10.4}
    assert worked_case(Case(choked, "road", found.site.march(choked, 1))).refusal.startswith("several groups")


FAULTS = {
    "too wide": (
        BOX,
        [
            '{ shape = "box", span_m = 9.0, rise_m = 3.0, bed_level_m = 10.0 }',
            '{ shape = "box", span_m = 9.0, rise_m = 3.0, bed_level_m = 10.0 }',
        ],
        "",
        "road.opening.span_m",
        "openings that are not wider together",
    ),
    "under the bed": (
        BOX,
        ['{ shape = "box", span_m = 2.0, rise_m = 1.0, bed_level_m = 8.0 }'],
        "",
        "road.further_openings 1.bed_level_m",
        "a soffit above the bed of the approach",
    ),
    "over the deck": (
        BOX,
        ['{ shape = "box", span_m = 2.0, rise_m = 4.0, bed_level_m = 11.0 }'],
        "deck = { level_m = 13.5, length_m = 20.0 }",
        "road.deck.level_m",
        "a deck not below the soffit",
    ),
    "no file": ('{ shape = "surveyed", bed = "bad.csv", rise_m = 3.0 }', [], "", "road.opening.bed", "bad.csv"),
    "no rise": (
        '{ shape = "surveyed", bed = "bed.csv" }',
        [],
        "",
        "road.opening.rise_m",
        "the clear height of the opening",
    ),
    "raft": (
        '{ shape = "surveyed", bed = "bed.csv", rise_m = 3.0 }',
        [],
        "pier_raft = { raft_width_m = 1.0, raft_depth_m = 0.5 }",
        "road.pier_raft",
        "rafts on piers only before main openings with a level bed",
    ),
}


@pytest.mark.parametrize("what", FAULTS)
def test_faults(tmp_path: Path, what: str) -> None:
    opening, further, more, place, expected = FAULTS[what]
    with pytest.raises(StudyError) as caught:
        bridge(tmp_path, opening, *further, more=more)
    assert any(
        place.replace("further_openings 1", "further_opening_1") in str(each) and expected in str(each)
        for each in caught.value.faults
    ), caught.value
