"""Faults of weirs, bridges and surveyed sections: one small change each, and what comes of it.

The line is counted by the test itself.
"""
# ruff: noqa: E501  (tables, one case a line)

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import Fault, StudyError

from .river import MEADOW, RIVER, TAILWATER, read_river
from .sound import edited, line_of

CORRECT = "Correct the number (the unit stands at the end of its name)."
ONE_OF_TWO = "Correct one of the two."
NARROW = "Narrow the distributions, or cut them off with low and high."
ZONES = RIVER[RIVER.index("    { to_m = 12.0") : RIVER.index(']\n\n[[element]]\nkind = "bridge"')]
SECOND = '{ to_m = 24.0, manning_n = { lognormal = { median = 0.035, cov = 0.15 }, basis = "tables" } }'
SKEW = 'skew = { angle_deg = 20, spans = "along the road" }'
SURVEY = 'section = { shape = "surveyed", points = "below.csv", zones = [{ manning_n = 0.04 }] }'
APPROACH = 'approach = { section = { shape = "trapezoid", bed_width_m = 12.0, side_slope = 1.5 }, bed_level_m = 10.15 }'

# what stands in the sound study, what is put there, the name in the fault, a part of what was expected, what came
# in full, and the remedy in full; where its line is not that of the change, the text that begins it
WEIRS = [
    ('kind = "broad_crested"', 'kind = "broadcrested"', "sill.crest.kind", '"broad_crested", "round_nosed", "thin_plate", "triangular", "given" or "uneven"', 'the text "broadcrested"', 'Write "broad_crested".'),
    ("breadth_m = 1.5\n", "", "sill.crest.breadth_m", "the breadth of the crest along the flow [m]", "nothing", "Add breadth_m = ... here.", "[element.crest]"),
    ('kind = "broad_crested"', 'kind = "thin_plate"', "sill.crest.breadth_m", "kind", "the unknown key breadth_m", "Write one of these keys, or remove it.", "breadth_m = 1.5"),
    ("breadth_m = 1.5", "breadth_m = 1.5\ncoefficient = 1.7", "sill.crest.coefficient", "kind, breadth_m, modular_limit", "the unknown key coefficient", "Write one of these keys, or remove it."),
    ("angle_deg = 30", "angle_deg = 80", "sill.crest.angle_deg", "an angle [deg] from 0 to 75", "the number 80", CORRECT),
    ("level_m = 10.8", "level_m = 9.9", "sill.crest.level_m", "a crest above the bed of the approach", "crest 9.9 against bed 10", ONE_OF_TWO),
    ("bank_level_m = 13.5", "bank_level_m = 10.7", "sill.bank_level_m", "a bank above the crest", "bank 10.7 against crest 10.8", ONE_OF_TWO),
    ("angle_deg = 30", "width_m = 16.1", "sill.crest.width_m", "a crest that is not wider than the channel, unless it lies at an angle", "channel 16 against crest 16.1", ONE_OF_TWO),
    ('shape = "rectangle", width_m = 16.0', 'shape = "trapezoid", bed_width_m = 12.0, side_slope = 2.0', "sill.crest.width_m", "as a trapezoid has no one width", "nothing", "Add width_m = ... here.", "[element.crest]"),
    ('section = { shape = "rectangle", width_m = 16.0 }', 'section = { shape = "survey", points = "below.csv" }', "sill.approach.section.shape", '"rectangle", "trapezoid" or "surveyed"', 'the text "survey"', 'Write "surveyed".'),
    ('section = { shape = "rectangle", width_m = 16.0 }\nbed_level_m = 10.0\n', SURVEY + "\n", "sill.crest.width_m", "as a surveyed section has no one width", "nothing", "Add width_m = ... here.", "[element.crest]"),
    (TAILWATER, 'normal_depth = { slope = 0.001, manning_n = 0.04, section = { shape = "rectangle", width_m = 9 } }', "tailwater.normal_depth.bed_level_m", "as the bed below a weir may lie lower", "nothing", "Add bed_level_m = ... here."),
]  # fmt: skip
BRIDGES = [
    ("count = 2, span_m = 6.0", "count = 2, spam_m = 6.0", "road.opening.spam_m", "shape, span_m, rise_m", "the unknown key spam_m", "Did you mean span_m?"),
    (APPROACH, f"approach = {{ {SURVEY}, bed_level_m = 10.15 }}", "road.approach.bed_level_m", "one of the keys section", "the unknown key bed_level_m", "Write one of these keys, or remove it."),
    (APPROACH, f"approach = {{ {SURVEY} }}".replace("below", "bellow"), "road.approach.section.points", "the name of a CSV file in the study's own folder", 'the text "bellow.csv", which is not there', "Correct the name or add the file."),
    (", bed_level_m = 10.1 }", " }", "road.opening.bed_level_m", "the level of the bed in them [m]", "nothing", "Add bed_level_m = ... here."),
    (SKEW, "skew = { angle_deg = 20 }", "road.skew.spans", 'which length a span is: "along the road" or "square to the flow"', "nothing", "Add spans = ... here."),
    (SKEW, 'skew = { angle_deg = 20, span = "along the road" }', "road.skew.span", "angle_deg, spans", "the unknown key span", "Did you mean spans?"),
    (SKEW, 'skew = { angle_deg = 20, spans = "along road" }', "road.skew.spans", '"along the road" or "square to the flow"', 'the text "along road"', 'Write "along the road".'),
    (SKEW, 'skew = { angle_deg = 20, spans = "along the road", piers = "square to the road" }', "road.skew.pier_length_m", "the length of a pier [m]", "nothing", "Add pier_length_m = ... here."),
    (SKEW, 'skew = { angle_deg = 20, spans = "along the road", pier_length_m = 4 }', "road.skew.pier_length_m", 'pier_length_m only beside piers = "square to the road"', "one without", "Remove it, or add the piers."),
    (SKEW, 'skew = { angle_deg = 60, spans = "square to the flow", piers = "square to the road", pier_length_m = 8 }', "road.skew.pier_length_m", "piers that leave a part of each span clear", "span 1.2 against its share of the piers 4.6188", ONE_OF_TWO),
    ("blockage = { beta = { a = 1.2, b = 5.0 }, basis = \"judged\" }\n", "", "road.pattern", "pattern only beside a blockage", "one without", "Add blockage = ... here.", 'pattern = "floating_raft"'),
    ("deck = { level_m = 13.6", "deck = { level_m = 12.8", "road.deck.level_m", "a deck not below the soffit", "deck 12.8 against soffit 12.9", ONE_OF_TWO),
    ("approach_road = { level_m = 13.4", "approach_road = { level_m = 10.1", "road.approach_road.level_m", "an approach road above the bed of the approach", "approach road 10.1 against bed 10.15", ONE_OF_TWO),
    ("bank_level_m = 13.3", "bank_level_m = 10.1", "road.bank_level_m", "a bank above the bed of the approach", "bank 10.1 against bed 10.15", ONE_OF_TWO),
    ("bed_level_m = 11.4 }", "bed_level_m = 8.9 }", "road.side_opening.bed_level_m", "a soffit above the bed of the approach", "soffit 10.1 against bed 10.15", ONE_OF_TWO),
    ("rise_m = 2.8, wall_height_m = 1.4", "rise_m = 3.4, wall_height_m = 0.2", "road.opening.rise_m", "no more than a semicircle", "wall height and half the span 3.2 against rise 3.4", ONE_OF_TWO, "opening = {"),
    ("count = 2, span_m = 6.0", "count = 4, span_m = 6.0", "road.opening.span_m", "openings that are not wider together, square to the flow, than the channel", "channel 20.25 against openings 23.6803", ONE_OF_TWO),
]  # fmt: skip
SURVEYS = [
    ('points = "meadow.csv"', 'points = "medow.csv"', "meadow.section.points", "the name of a CSV file in the study's own folder", 'the text "medow.csv", which is not there', "Correct the name or add the file."),
    (SECOND, SECOND.replace("to_m = 24.0, ", ""), "meadow.section.zone_2.to_m", "the offset at which the zone ends [m]", "nothing", "Add to_m = ... here."),
    ("{ manning_n = 0.05 }", "{ to_m = 40, manning_n = 0.05 }", "meadow.section.zone_3.to_m", "no to_m in the last zone", "the number 40", "Remove it, or add the zone that comes after it."),
    ("to_m = 24.0", "to_m = 11.0", "meadow.section.zone_2.to_m", "an offset between 12 and 40, inside the section and rising", "the number 11", "Correct the offset."),
    ("to_m = 24.0", "to_m = 40.0", "meadow.section.zone_2.to_m", "an offset between 12 and 40", "the number 40", "Correct the offset."),
    ("{ to_m = 12.0, manning_n = 0.06 }", "{ to_m = 12.0 }", "meadow.section.zone_1.manning_n", "Manning's n of the zone", "nothing", "Add manning_n = ... here."),
    ("{ manning_n = 0.05 }", "{ maning_n = 0.05 }", "meadow.section.zone_3.maning_n", "to_m, manning_n", "the unknown key maning_n", "Did you mean manning_n?"),
    (f"zones = [\n{ZONES}]", "zones = []", "meadow.section.zones", "a list of zones of roughness", "an empty list", "Write zones = [{ ... }, { ... }]."),
    (f"zones = [\n{ZONES}]", "zones = 0.035", "meadow.section.zones", "a list of zones of roughness", "the number 0.035", "Write zones = [{ ... }, { ... }]."),
    ('["subdivided", "horton"]', '["subdivided", "hortons"]', "meadow.section.method.discrete.values 2", '"subdivided", "horton" or "pavlovskii"', 'the text "hortons"', 'Write "horton".'),
    ("bed_slope = 0.001\n", "bed_slope = 0.001\nbed_level_m = 10.0\n", "meadow.bed_level_m", "section, length_m, bed_slope, bank_level_m", "the unknown key bed_level_m", "Write one of these keys, or remove it."),
    ("bed_slope = 0.001\n", "bed_slope = 0.001\nmanning_n = 0.04\n", "meadow.manning_n", "section, length_m, bed_slope, bank_level_m", "the unknown key manning_n", "Write one of these keys, or remove it."),
    ("bank_level_m = 13.6", "bank_level_m = 10.15", "meadow.bank_level_m", "a bank above the bed at its upstream end", "bank down to 10.15 against bed up to 10.18", NARROW),
    ("normal_depth = { slope = 0.0015", "normal_depth = { manning_n = 0.04, slope = 0.0015", "tailwater.normal_depth.manning_n", "section, slope", "the unknown key manning_n", "Write one of these keys, or remove it."),
]  # fmt: skip
ALL = [*WEIRS, *BRIDGES, *SURVEYS]


def one_fault(folder: Path, text: str) -> Fault:
    with pytest.raises(StudyError) as caught:
        read_river(folder, text)
    found = caught.value.faults
    assert len(found) == 1, "\n".join(map(str, found))
    return found[0]


@pytest.mark.parametrize("case", ALL, ids=lambda case: f"{case[2]}: {case[4]}"[:70])
def test_one_fault_with_its_place_and_its_remedy(case: tuple[str, ...], tmp_path: Path) -> None:
    old, new, name, expected, got, remedy, *marker = case
    text = edited((old, new), text=RIVER)
    line = line_of(marker[0], text) if marker else line_of(old, RIVER) + new.rstrip("\n").count("\n")
    fault = one_fault(tmp_path, text)
    assert fault.place == f"line {line}, {name}"
    assert expected in fault.expected
    assert fault.got == got
    assert fault.remedy == remedy


# changes of a survey, the row, what was expected, what came, and the remedy
ROWS = [
    (("12,11.8\n14,10.2", "14,10.2\n12,11.8"), "row 5", "an offset not below that of the row before it, 14", "12", "Sort the rows across the section; an overhanging bank cannot be used."),
    (("2,12\n", "2,x\n"), "row 3", "a number in every cell", '"x"', "Correct the cell."),
    (("2,12\n", "2,12000\n"), "row 3", "a level [m] from -500 to 9000", "12000", "Correct the level."),
    (("offset_m,level_m", "offset,level"), "row 1", "the header offset_m,level_m", '"offset,level"', "Make offset_m,level_m the first line of the file, or name the heads that it has, such as columns = { offset_m = \"offset\", level_m = \"level\" }."),
]  # fmt: skip


@pytest.mark.parametrize("case", ROWS, ids=lambda case: case[2])
def test_a_row_of_a_survey(case: tuple[tuple[str, str], str, str, str, str], tmp_path: Path) -> None:
    change, row, expected, got, remedy = case
    (tmp_path / "other.csv").write_text(edited(change, text=MEADOW), encoding="utf-8")
    fault = one_fault(tmp_path, edited(("meadow.csv", "other.csv"), text=RIVER))
    assert fault.place.endswith(f"meadow.section.points, other.csv {row}")
    assert (fault.expected, fault.got, fault.remedy) == (expected, got, remedy)


@pytest.mark.parametrize(
    ("rows", "expected", "got"),
    [
        ("0,1\n1,0\n", "at least three rows of offset and level", "2"),
        ("1,1\n1,0\n1,2\n", "points at two offsets or more", "all at 1"),
    ],
)
def test_a_survey_that_is_no_section(rows: str, expected: str, got: str, tmp_path: Path) -> None:
    (tmp_path / "other.csv").write_text(f"offset_m,level_m\n{rows}", encoding="utf-8")
    fault = one_fault(tmp_path, edited(("meadow.csv", "other.csv"), text=RIVER))
    assert fault.place.endswith("meadow.section.points, other.csv")
    assert (fault.expected, fault.got) == (expected, got)


def test_a_square_bridge_need_not_say_which_length_is_given(tmp_path: Path) -> None:
    read_river(tmp_path, edited((SKEW, "skew = { angle_deg = 0 }"), text=RIVER))


def test_a_crest_wider_than_the_channel_at_an_angle(tmp_path: Path) -> None:
    read_river(tmp_path, edited(("angle_deg = 30", "angle_deg = 30\nwidth_m = 18"), text=RIVER))


def test_a_crest_as_wide_as_a_trapezoid_at_its_level(tmp_path: Path) -> None:
    """0.8 m above a bed of 12 m the channel is 12 + 2 x 2 x 0.8 = 15.2 m wide."""
    trapezoid = ('shape = "rectangle", width_m = 16.0', 'shape = "trapezoid", bed_width_m = 12.0, side_slope = 2.0')
    read_river(tmp_path, edited(trapezoid, ("angle_deg = 30", "width_m = 15.2"), text=RIVER))
    lower = ("level_m = 10.8", "level_m = 10.7")  # 10.7 less 10.0 is a hair under 0.7 in binary numbers
    read_river(tmp_path, edited(trapezoid, lower, ("angle_deg = 30", "width_m = 14.8"), text=RIVER))
    fault = one_fault(tmp_path, edited(trapezoid, ("angle_deg = 30", "width_m = 15.3"), text=RIVER))
    assert fault.got == "channel 15.2 against crest 15.3"
