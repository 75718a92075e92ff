"""A barrel in parts: from a study to the level, worked by hand, with what cannot be."""
# ruff: noqa: E501  (tables of faults)

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.errors import StudyError
from overbank.report.worked import worked_case
from overbank.site.by_hand.steps import Case
from overbank.site.validity import remarks
from overbank.study.build import Problem, build
from overbank.study.load import Study, read_study
from small import BLOCKAGE, DEPENDENCE, SMALL, written

BARREL = next(line for line in SMALL.splitlines() if line.startswith("barrel = "))
FIRST = """[element.barrel]
shape = "box"
span_m = 2.4
rise_m = 1.5
length_m = 12.0
upstream_invert_m = 30.10
downstream_invert_m = 30.05
manning_n = 0.014

"""
PIPE = """[[element.barrel.part]]
shape = "pipe"
diameter_m = 1.6
length_m = 18.0
upstream_invert_m = 29.90
downstream_invert_m = 29.80
manning_n = { triangular = { low = 0.011, mode = 0.013, high = 0.016 }, basis = "invented" }
joint = "manhole"
bend_deg = 45.0

"""
LAST = """[[element.barrel.part]]
shape = "box"
span_m = 2.0
rise_m = 1.6
length_m = 9.0
downstream_invert_m = 29.78
manning_n = 0.014
joint_loss = { triangular = { low = 0.1, mode = 0.2, high = 0.4 }, basis = "invented" }

"""


def text(*changes: tuple[str, str]) -> str:
    """The small study with the barrel in three parts, a clean screen."""
    whole = SMALL.replace(BARREL + "\n", "").replace("[element.screen]", FIRST + PIPE + LAST + "[element.screen]")
    for old, new in ((BLOCKAGE, "blockage = 0.0"), (DEPENDENCE, ""), *changes):
        assert whole.count(old) == 1, old
        whole = whole.replace(old, new)
    return whole


def parted(folder: Path, *changes: tuple[str, str]) -> Study:
    return read_study(written(folder, text(*changes)))


def results(found: Problem, **numbers: float) -> dict[str, float]:
    once = found.site.march({**found.medians(), **numbers}, 1).element("lane")
    return {name: float(values[0]) for name, values in once.results.items()}


def test_names_and_what_is_left_out(tmp_path: Path) -> None:
    found = build(parted(tmp_path))
    medians = found.medians()
    assert medians["lane.barrel.part_1.diameter_m"] == 1.6
    assert medians["lane.barrel.part_2.upstream_invert_m"] == 29.80
    assert medians["lane.barrel.part_2.bed_manning_n"] == 0.014
    assert {"lane.barrel.part_1.manning_n", "lane.barrel.part_2.joint_loss"} <= set(found.inputs.names)
    assert found.site.elements[0].length(medians) == pytest.approx(39.0)
    assert found.site.elements[0].bed_below(medians) == 29.78


def test_full_of_water_it_is_a_plain_sum(tmp_path: Path) -> None:
    """Drowned all along at 33.0: exit, friction, joints, entrance. Losses of HEC-22 p. 145 and 147, Weisbach, Borda."""
    found = build(parted(tmp_path, ("level_m = 32.6", "level_m = 39.0")))
    flow, g2 = 5.0, 19.62
    areas = {"first": 3.6, "pipe": np.pi * 0.64, "last": 3.2}
    perimeters = {"first": 7.8, "pipe": np.pi * 1.6, "last": 7.2}
    lengths, n = {"first": 12.0, "pipe": 18.0, "last": 9.0}, {"first": 0.014, "last": 0.014}
    n["pipe"] = float(np.asarray(found.medians()["lane.barrel.part_1.manning_n"]))
    v = {each: flow / areas[each] for each in areas}
    friction = sum((n[k] * v[k]) ** 2 * lengths[k] * (perimeters[k] / areas[k]) ** (4 / 3) for k in areas)
    contracted = 0.62 + 0.38 * (areas["pipe"] / areas["first"]) ** 3
    manhole = (0.75 + (1 / contracted - 1) ** 2) * v["pipe"] ** 2 / g2
    given = float(np.asarray(found.medians()["lane.barrel.part_2.joint_loss"]))
    widening = given * v["last"] ** 2 / g2 + (v["pipe"] - v["last"]) ** 2 / g2
    entrance = 0.4 * v["first"] ** 2 / g2
    head = v["last"] ** 2 / g2 + friction + manhole + widening + entrance
    still = {"flow.design_m3_s": flow, "tailwater.level_m": 33.0}
    drowned = found.site.march({**found.medians(), **still}, 1).element("lane")
    y = float(drowned.results["outlet_level"][0]) - 30.1
    approach = (1.4 / g2) * (flow / ((2.5 + 1.5 * y) * y)) ** 2
    assert y + 30.1 + approach == pytest.approx(33.0 + head, abs=1e-5)
    assert drowned.governs().startswith("outlet control, barrel full")


def test_worked_by_hand(tmp_path: Path) -> None:
    found = build(parted(tmp_path))
    once = found.site.march(found.medians(), 1)
    worked = worked_case(Case(found.medians(), "lane", once))
    assert not worked.refusal
    said = {step.symbol: step.result for step in worked.steps}
    assert {"h2", "E2", "y of 1", "h1", "K1", "E1", "y of 0"} <= set(said)
    assert said["E1"] >= said["h1"] + (1 + said["K1"]) * said["w1"] ** 2 / 19.62 - 1e-9
    assert worked.steps[-1].result == pytest.approx(float(once.element("lane").level[0]), abs=1e-6)


def test_what_a_reader_is_told(tmp_path: Path) -> None:
    found = build(parted(tmp_path))
    site, numbers = found.site, found.medians()
    said = {each.words for each in remarks(site, site.march(numbers, 1), numbers)}
    assert any("manhole in a barrel: a loss for first sizes" in words for words in said)
    beyond = {**numbers, "flow.design_m3_s": 20.0, "lane.barrel.part_2.bend_deg": 30.0, "lane.road.level_m": 45.0}
    del beyond["lane.barrel.part_2.joint_loss"]
    beyond["lane.barrel.part_2.bend_radius_m"] = 1.2
    said = {each.words for each in remarks(site, site.march(beyond, 1), beyond)}
    assert "manhole or chamber with DI above 1.6, HEC-22's tests" in said
    assert "bend with a radius outside 1 to 8 diameters, the table of HDS-5" in said


BANK = "bank_level_m = { normal = { mean = 32.2"


def test_silt_lies_in_every_part(tmp_path: Path) -> None:
    levels = []
    for silt in (0.0, 0.1, 0.3):
        found = build(parted(tmp_path / str(silt), (BANK, f"silt = {silt}\n{BANK}")))
        levels.append(results(found)["outlet_level"])
        heights = [float(found.site.elements[0].silt(found.medians(), 1, part)[0]) for part in range(3)]
        assert heights[0] == pytest.approx(silt * 1.5)
        assert heights[2] == pytest.approx(silt * 1.6)
    assert levels[0] < levels[1] < levels[2]


FAULTS = {
    "begins above": (
        ("upstream_invert_m = 29.90", "upstream_invert_m = 30.20"),
        "lane.barrel.part_1.upstream_invert_m",
        "a part that does not begin above the end of the part above",
    ),
    "rises": (
        ("downstream_invert_m = 29.78", "downstream_invert_m = 30.50"),
        "lane.barrel.part_2.downstream_invert_m",
        "no more than 0.02 of the length",
    ),
    "joint": (('joint = "manhole"', 'joint = "siphon"'), "lane.barrel.part_1.joint", '"manhole" or "chamber"'),
    "angle": (("bend_deg = 45.0", "bend_deg = 120"), "lane.barrel.part_1.bend_deg", "an angle [deg]"),
    "radius": (
        ("bend_deg = 45.0", "bend_deg = 45.0\nbend_radius_m = 3.0"),
        "lane.barrel.part_1.bend_radius_m",
        "without a manhole or a chamber",
    ),
    "both": (
        ("bend_deg = 45.0", "bend_deg = 45.0\njoint_loss = 0.4"),
        "lane.barrel.part_1.bend_deg",
        "no bend_deg beside a joint_loss",
    ),
    "shape": (('shape = "pipe"', 'shape = "tube"'), "lane.barrel.part_1.shape", "shape ="),
    "no length": (("length_m = 18.0\n", ""), "lane.barrel.part_1.length_m", "the length of the part"),
}


@pytest.mark.parametrize("what", FAULTS)
def test_faults(tmp_path: Path, what: str) -> None:
    change, place, expected = FAULTS[what]
    with pytest.raises(StudyError) as caught:
        parted(tmp_path, change)
    assert any(place in fault.place and expected in fault.expected for fault in caught.value.faults), caught.value


def test_relief_barrels_have_one_part(tmp_path: Path) -> None:
    relief = '[element.relief]\nbarrel = { shape = "pipe", diameter_m = 0.9, length_m = 20.0, upstream_invert_m = 31.0, downstream_invert_m = 30.9, manning_n = 0.013, part = [] }\ninlet = { edge = "square edge in headwall" }\n\n[element.road]'
    with pytest.raises(StudyError, match="relief barrels of one part"):
        parted(tmp_path, ("[element.road]", relief))


def test_an_alternative_changes_a_part(tmp_path: Path) -> None:
    more = '[[alternative]]\nname = "wider pipe"\nset = { "lane.barrel.part_1.diameter_m" = 2.0 }\n'
    study = parted(tmp_path, ('[[element]]\nkind = "channel"', f'{more}\n[[element]]\nkind = "channel"'))
    changed = build(study.alternative("wider pipe"))
    assert changed.medians()["lane.barrel.part_1.diameter_m"] == 2.0
    assert results(changed)["level"] < results(build(study))["level"]
