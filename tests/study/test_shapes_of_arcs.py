"""Pipe-arches, eggs and horseshoes from a study to the level; arches with tapered entrances; what cannot be."""
# ruff: noqa: E501  (tables of faults)

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.errors import StudyError
from overbank.hydraulics import sections
from overbank.report.worked import worked_case
from overbank.site.by_hand.steps import Case
from overbank.site.culvert import UNTESTED
from overbank.site.validity import remarks
from overbank.study.build import Problem, build
from small import BLOCKAGE, DEPENDENCE, study

BOX = 'shape = "box", span_m = 2.4, rise_m = 1.5'
INLET = 'inlet = { edge = "wingwalls 30 to 75 deg" }'
SHAPES = {
    "pipe_arch": (
        'shape = "pipe_arch", span_m = 2.4, rise_m = 1.6, corner_radius_m = 0.4, corner_height_m = 0.6',
        "pipe-arch, headwall",
        sections.pipe_arch(2.4, 1.6, 0.4, 0.6, 0.014),
    ),
    "egg": ('shape = "egg", span_m = 1.5, rise_m = 2.25', "square edge in headwall", sections.egg(1.5, 2.25, 0.014)),
    "horseshoe": ('shape = "horseshoe", diameter_m = 1.8', "square edge in headwall", sections.horseshoe(1.8, 0.014)),
    "arch": (
        'shape = "arch", span_m = 2.4, rise_m = 1.6, wall_height_m = 0.6',
        "masonry arch in headwall",
        sections.arch(2.4, 1.6, 0.6, 0.014),
    ),
}


def of_shape(folder: Path, shape: str, *changes: tuple[str, str]) -> Problem:
    written, edge, _ = SHAPES[shape]
    clean = ((BLOCKAGE, "blockage = 0.0"), (DEPENDENCE, ""))
    return build(study(folder, (BOX, written), (INLET, f'inlet = {{ edge = "{edge}" }}'), *clean, *changes))


@pytest.mark.parametrize("shape", SHAPES)
def test_full_of_water_it_is_a_plain_sum(shape: str, tmp_path: Path) -> None:
    """HDS-5 p. 34: exit, friction by Manning, entrance; area and perimeter of the section checked in `test_arcs`."""
    found = of_shape(tmp_path, shape, ("level_m = 32.6", "level_m = 39.0"))
    s = SHAPES[shape][2]
    area, perimeter, flow, g2 = sections.area(s, s.rise), sections.wetted_perimeter(s, s.rise), 5.0, 19.62
    head = (flow / area) ** 2 / g2
    friction = (0.014 * flow / area) ** 2 * (perimeter / area) ** (4 / 3) * 22.0
    loss = float(np.asarray(found.medians()["lane.inlet.entrance_loss"]))
    water = {"flow.design_m3_s": flow, "tailwater.level_m": 34.0}
    lane = found.site.march({**found.medians(), **water}, 1).element("lane")
    level = float(lane.results["outlet_level"][0])
    y = level - 30.1
    approach = (1 + loss) / g2 * (flow / ((2.5 + 1.5 * y) * y)) ** 2
    assert level + approach == pytest.approx(34.0 + friction + (1 + loss) * head, abs=1e-5)


@pytest.mark.parametrize("shape", SHAPES)
def test_worked_by_hand_and_what_is_said_of_its_inlet(shape: str, tmp_path: Path) -> None:
    found = of_shape(tmp_path, shape)
    once = found.site.march(found.medians(), 1)
    worked = worked_case(Case(found.medians(), "lane", once))
    assert not worked.refusal
    assert worked.steps[-1].result == pytest.approx(float(once.element("lane").level[0]), abs=1e-6)
    said = {each.words for each in remarks(found.site, once, found.medians())}
    assert (UNTESTED in said) == (shape != "pipe_arch")


def test_a_tapered_entrance_before_an_arch(tmp_path: Path) -> None:
    """Its face and throat are a box's, by their own dimensions; the throat lowers the drowned inlet of the masonry arch."""
    tapered = 'inlet = { face = { edge = "side-tapered face, more favourable edges", width_m = 3.4, height_m = 1.7, taper_length_m = 3.0 }, throat = "tapered throat" }'
    plain = of_shape(tmp_path / "plain", "arch", ("level_m = 32.6", "level_m = 39.0"))
    found = build(
        study(
            tmp_path / "tapered",
            (BOX, SHAPES["arch"][0]),
            (INLET, tapered),
            (BLOCKAGE, "blockage = 0.0"),
            (DEPENDENCE, ""),
            ("level_m = 32.6", "level_m = 39.0"),
        )
    )
    flows = {"flow.design_m3_s": 11.0, "tailwater.level_m": 30.2}
    levels = [
        each.site.march({**each.medians(), **flows}, 1).element("lane").results["inlet_level"][0]
        for each in (plain, found)
    ]
    assert levels[1] < levels[0]
    assert UNTESTED in {
        each.words for each in remarks(found.site, found.site.march(found.medians(), 1), found.medians())
    }


FAULTS = {
    "corner under": (
        "pipe_arch",
        "corner_height_m = 0.6",
        "corner_height_m = 0.3",
        "corner_height_m",
        "a height above the radius of the corners",
    ),
    "corner wide": ("pipe_arch", "span_m = 2.4", "span_m = 0.7", "corner_radius_m", "a radius under half the span"),
    "corner high": ("pipe_arch", "rise_m = 1.6", "rise_m = 0.9", "rise_m", "a rise above the top of the corners"),
    "corners low": (
        "pipe_arch",
        "rise_m = 1.6",
        "rise_m = 1.85",
        "rise_m",
        "a rise over the corners of at most half the span",
    ),
    "corners far up": (
        "pipe_arch",
        "span_m = 2.4",
        "span_m = 1.1",
        "corner_height_m",
        "a height of the corners of at most half the span",
    ),
    "no corner": ("pipe_arch", ", corner_radius_m = 0.4", "", "corner_radius_m", "the radius of the corners"),
    "low egg": ("egg", "rise_m = 2.25", "rise_m = 1.4", "rise_m", "an egg that is higher than wide"),
    "wide horseshoe": ("horseshoe", "diameter_m = 1.8", "span_m = 1.8", "diameter_m", "the clear height of one barrel"),
}


@pytest.mark.parametrize("what", FAULTS)
def test_faults(tmp_path: Path, what: str) -> None:
    shape, old, new, key, expected = FAULTS[what]
    written, edge, _ = SHAPES[shape]
    with pytest.raises(StudyError) as caught:
        study(tmp_path, (BOX, written.replace(old, new)), (INLET, f'inlet = {{ edge = "{edge}" }}'))
    assert any(f"lane.barrel.{key}" in each.place and expected in each.expected for each in caught.value.faults), (
        caught.value
    )
