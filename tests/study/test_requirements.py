"""An authority's own figures, and the rise that is tolerated: what is read and what is refused."""
# ruff: noqa: E501  (tables, one case a line)

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import Fault
from overbank.study.requirements import SUBJECTS, UNITS

from .sound import edited, faults, line_of, only_fault, read

NAMED = edited(('at = "lane"', 'at = "lane"\nrequirements = "asked.toml"'))
KEY = f"line {line_of('requirements', NAMED)}, decision.requirements"
ASKED = """\
authority = "an invented board"

[[line]]
name = "freeboard"
about = "freeboard"
figure = 300
unit = "mm"
reference = "clause 4"

[[line]]
name = "climate"
about = "uplift of flow"
figure = 20
unit = "%"
reference = "clause 5"
"""


def test_the_figures_are_read(tmp_path: Path) -> None:
    (tmp_path / "asked.toml").write_text(ASKED, encoding="utf-8")
    found = read(tmp_path, NAMED).content.decision.requirements
    assert found is not None
    assert found.authority == "an invented board"
    assert [(line.about, line.asked) for line in found.line] == [("freeboard", 0.3), ("uplift of flow", 0.2)]
    assert read(tmp_path, edited()).content.decision.requirements is None


CASES = [
    ('about = "freeboard"', 'about = "freebord"', "line 5, about", ", ".join(f'"{word}"' for word in SUBJECTS).replace(', "rise', ' or "rise'), 'the text "freebord"', 'Write "freeboard".'),
    ("figure = 300", "figure = -3", "line 6, figure", "a number not below 0", "the number -3", "Correct the number."),
    ("figure = 300", "figure = 300000", "line 6, figure", "a figure from 0 to 10000 mm for freeboard", "300000 mm", "Correct the figure or its unit."),
    ("figure = 20", "figure = 2000", "line 13, figure", "a figure from 0 to 300 % for uplift of flow", "2000 %", "Correct the figure or its unit."),
    ('unit = "mm"', 'unit = "%"', "line 7, unit", 'the unit "m", "mm", "ft" or "in" for freeboard', '"%"', "Give the figure in that unit."),
    ('unit = "mm"', 'unit = "furlong"', "line 7, unit", ", ".join(f'"{word}"' for word in UNITS).replace(', "in', ' or "in'), 'the text "furlong"', "Write one of these words."),
    ('reference = "clause 4"\n', "", "line 3, reference", "where the figure stands: document, date, clause", "nothing", "Add reference = ... here."),
    ('name = "climate"', 'name = "climate"\nlaw = true', "line 12, law", "one of the keys name, about, figure, unit, reference", "the unknown key law", "Write one of these keys, or remove it."),
    ('authority = "an invented board"\n', "", "authority", "who asks for these figures, and as of when", "nothing", "Add authority = ... here."),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case[2]}: {case[4]}")
def test_one_fault_with_its_place_in_the_file(case: tuple[str, ...], tmp_path: Path) -> None:
    old, new, place, expected, got, remedy = case
    assert ASKED.count(old) == 1
    (tmp_path / "asked.toml").write_text(ASKED.replace(old, new), encoding="utf-8")
    assert only_fault(tmp_path, NAMED) == Fault(f"{KEY}, asked.toml, {place}", expected, got, remedy)


def test_all_faults_of_the_file_and_of_the_study_come_at_once(tmp_path: Path) -> None:
    (tmp_path / "asked.toml").write_text(ASKED.replace("300", "-3").replace('"%"', '"m"'), encoding="utf-8")
    found = faults(tmp_path, NAMED.replace("seed = 3", "seed = -3"))
    assert [fault.place.rpartition(", ")[2] for fault in found] == ["run.seed", "figure", "unit"]


def test_no_line_at_all(tmp_path: Path) -> None:
    (tmp_path / "asked.toml").write_text('authority = "nobody"\n', encoding="utf-8")
    fault = only_fault(tmp_path, NAMED)
    assert (fault.expected, fault.got) == ("at least one table [[line]]", "nothing")


@pytest.mark.parametrize(
    ("content", "place", "expected", "got"),
    [
        (b'authority = "x\n', "asked.toml, line 1, column 15", "a file in TOML", "Illegal character"),
        (b"authority = '\xff'\n", "asked.toml", "a TOML file in UTF-8", "bytes that are not"),
    ],
)
def test_a_file_that_cannot_be_read(content: bytes, place: str, expected: str, got: str, tmp_path: Path) -> None:
    (tmp_path / "asked.toml").write_bytes(content)
    fault = only_fault(tmp_path, NAMED)
    assert (fault.place, fault.expected) == (f"{KEY}, {place}", expected)
    assert fault.got.startswith(got)


@pytest.mark.parametrize(
    ("named", "got"),
    [
        ('"../asked.toml"', 'the text "../asked.toml", which leads out of it'),
        ('"/etc/hostname"', 'the text "/etc/hostname", which leads out of it'),
        ('"asked.toml"', 'the text "asked.toml", which is not there'),
        ("3", "the number 3"),
    ],
)
def test_only_a_file_of_the_folder(named: str, got: str, tmp_path: Path) -> None:
    folder = tmp_path / "study"
    folder.mkdir()
    (tmp_path / "asked.toml").write_text(ASKED, encoding="utf-8")
    fault = only_fault(folder, NAMED.replace('"asked.toml"', named))
    assert (fault.place, fault.expected) == (KEY, "the name of a TOML file in the study's own folder")
    assert fault.got == got


TOLERANT = edited(('at = "lane"', 'at = "lane"\ntolerance_m = 0.02'))
WIDER = '\n[[alternative]]\nname = "Wider"\nset = { "lane.screen.width_m" = 5.0 }\n'


def test_a_rise_is_tolerated_beside_an_alternative_only(tmp_path: Path) -> None:
    study = read(tmp_path, TOLERANT + WIDER)
    assert study.content.decision.tolerance_m == 0.02
    assert study.alternatives["Wider"].decision.tolerance_m is None
    fault = only_fault(tmp_path, TOLERANT)
    assert fault.place.endswith(", decision.tolerance_m")
    assert (fault.expected, fault.got) == ("it only beside an alternative", "none")
    assert fault.remedy == "Add an [[alternative]], or remove it."


@pytest.mark.parametrize("value", ["-0.1", "12.0", '"0.02"'])
def test_a_rise_that_cannot_be(value: str, tmp_path: Path) -> None:
    fault = only_fault(tmp_path, TOLERANT.replace("tolerance_m = 0.02", f"tolerance_m = {value}") + WIDER)
    assert fault.place.endswith(", decision.tolerance_m")
    assert fault.expected == "a number from 0 to 10"
