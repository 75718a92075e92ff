"""A tapered entrance in a study: face and throat from the table of inlets, what is left out, and its faults."""
# ruff: noqa: E501  (tables, one case a line)

from __future__ import annotations

from pathlib import Path

import pytest

from bases import certain_basis
from overbank.hydraulics.tables import inlets

from .sound import SOUND, built, edited, line_of, only_fault

EDGE = 'edge = "wingwalls 30 to 75 deg"\n'
FACE = 'face = { edge = "side-tapered face, less favourable edges", width_m = 3.4, height_m = 1.6, invert_level_m = 30.2 }\n'
THROAT = 'throat = "tapered throat"\n'
TAPERED = edited((EDGE, FACE + THROAT))


def test_face_and_throat_take_their_rows(tmp_path: Path) -> None:
    problem = built(tmp_path, TAPERED)
    culvert = problem.site.elements[0]
    assert culvert.inlet == inlets()["box", "tapered throat"]
    assert culvert.face == inlets()["box", "side-tapered face, less favourable edges"]
    fixed = {name.removeprefix("lane.inlet."): value for name, value in problem.fixed.items()}
    assert (fixed["face.width_m"], fixed["face.height_m"], fixed["face.invert_level_m"]) == (3.4, 1.6, 30.2)
    assert fixed["entrance_loss"] == 0.2  # FHWA HDS-5, 2nd ed. 2001, Table 12: side- or slope-tapered
    assert "Table 12" in certain_basis(problem)["lane.inlet.entrance_loss"]
    plain = built(tmp_path, SOUND)
    tapered, square = (each.site.march(each.medians()).element("lane").level[0] for each in (problem, plain))
    assert tapered < square


def test_a_face_without_a_level_stands_on_the_inlet_invert(tmp_path: Path) -> None:
    problem = built(tmp_path, edited((", invert_level_m = 30.2", ""), text=TAPERED))
    assert problem.fixed["lane.inlet.face.invert_level_m"] == 30.1


@pytest.mark.parametrize("face", [edge for shape, edge in inlets() if shape == "pipe" and "tapered face" in edge])
def test_faces_of_a_pipe(face: str, tmp_path: Path) -> None:
    pipe = [('shape = "box"', 'shape = "pipe"'), ("span_m = 2.4\nrise_m = 1.5", "diameter_m = 1.5")]
    text = edited(
        *pipe,
        ("side-tapered face, less favourable edges", face),
        ('"tapered throat"', '"tapered throat, rough"'),
        text=TAPERED,
    )
    problem = built(tmp_path, text)
    assert problem.site.elements[0].face == inlets()["pipe", face]
    assert problem.site.march(problem.medians()).element("lane").level[0] > 30.5


# what stands in the tapered study, what is put there, the name in the fault, a part of what was expected, what came
# and the remedy in full; where its line is not that of the change, the text that begins it
FAULTS = [
    ("less favourable edges", "least favourable edges", "lane.inlet.face.edge", "for a barrel of the shape box, for a face", 'the text "side-tapered face, least favourable edges"', 'Write "side-tapered face, less favourable edges", "side-tapered face, more favourable edges" or "slope-tapered face, less favourable edges".'),
    ('"tapered throat"', '"headwall"', "lane.inlet.throat", "for a barrel of the shape box, for a throat", 'the text "headwall"', 'Write "tapered throat".'),
    (THROAT, "", "lane.inlet.throat", "the throat in the words of the table of inlets", "nothing", "Add throat = ... here.", "[element.inlet]"),
    (FACE, "", "lane.inlet.face", "a table with the keys edge, width_m, height_m", "nothing", "Add face = ... here.", "[element.inlet]"),
    (THROAT, THROAT + EDGE, "lane.inlet.edge", "face, throat", "the unknown key edge", "It belongs in face."),
    ("width_m = 3.4", "width_m = 2.3", "lane.inlet.face.width_m", "a face that is not narrower than the barrel", "face 2.3 against span 2.4", "Correct one of the two."),
    ("invert_level_m = 30.2", "invert_level_m = 30.0", "lane.inlet.face.invert_level_m", "a face whose bed is not below the inlet invert", "face 30 against inlet invert 30.1", "Correct one of the two."),
    ('shape = "box"', 'shape = "ellipse"', "lane.inlet.face", 'a barrel of the shape "box", "pipe" or "arch"', "one of the shape ellipse", "Give an edge instead.", "face = {"),
]  # fmt: skip


@pytest.mark.parametrize("case", FAULTS, ids=lambda case: f"{case[2]}: {case[4]}"[:70])
def test_one_fault_with_its_place_and_its_remedy(case: tuple[str, ...], tmp_path: Path) -> None:
    old, new, name, expected, got, remedy, *marker = case
    text = edited((old, new), text=TAPERED)
    line = line_of(marker[0], text) if marker else line_of(old, TAPERED) + new.rstrip("\n").count("\n")
    fault = only_fault(tmp_path, text)
    assert fault.place == f"line {line}, {name}"
    assert expected in fault.expected
    assert fault.got == got
    assert fault.remedy == remedy
