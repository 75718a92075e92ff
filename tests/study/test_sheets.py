"""Tables from workbooks and from files with heads of their own: what openpyxl writes is read back, and nothing is guessed."""
# ruff: noqa: E501  (long lines of tables)

from __future__ import annotations

import zipfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from pydantic_core import PydanticCustomError

from overbank.errors import StudyError
from overbank.study.load import Study, make_study
from overbank.study.reading import sheets
from overbank.study.reading.folder import Folder
from overbank.study.reading.sheets import picked, plain_head
from small import DEPENDENCE, FLOW, edited

from . import inspections

TAIL = 'level_m = { normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }'
PLAIN = "flow_m3_s,level_m\n1.5,30.5\n6,31\n20,31.75\n"


def book(file: Path, tables: dict[str, list[list[Any]]]) -> Path:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in tables.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    made.save(file)
    return file


def study(folder: Path, *changes: tuple[str, str]) -> Study:
    return make_study(edited(*changes), folder)


def rated(folder: Path, said: str) -> Study:
    return study(folder, (TAIL, f"rating = {said}"))


def test_a_rating_from_a_sheet_is_that_of_the_csv_file(tmp_path: Path) -> None:
    """Heads as people write them, other columns, blank rows and lines, a sheet that is not the first."""
    (tmp_path / "rating.csv").write_text(PLAIN, encoding="utf-8")
    rows = [
        [],
        ["Gauge", "Level [m]", None, "Flow (m³/s)"],
        ["a", 30.5, None, 1.5],
        [],
        [None, 31, None, 6],
        ["b", 31.75, None, 20.0],
    ]
    book(tmp_path / "rating.xlsx", {"notes": [["see the other sheet"]], "rating": rows})
    plain = rated(tmp_path, '"rating.csv"')
    found = rated(tmp_path, '{ file = "rating.xlsx", sheet = "rating" }')
    for one, other in zip(
        plain.content.tailwater.rating.__dict__.values(), found.content.tailwater.rating.__dict__.values(), strict=True
    ):
        assert one == other or isinstance(one, str)
    assert found.ignored == {"rating.xlsx, sheet rating": ("Gauge",)}
    assert list(found.files) == ["rating.xlsx"]
    assert plain.ignored == {}


def test_heads_may_be_named(tmp_path: Path) -> None:
    (tmp_path / "gauge.csv").write_text("W,Q,Q max\n30.5,9,1.5\n31,9,6\n31.75,9,20\n", encoding="utf-8")
    found = rated(tmp_path, '{ file = "gauge.csv", columns = { flow_m3_s = "Q max", level_m = "W" } }')
    assert found.content.tailwater.rating.flows == (1.5, 6.0, 20.0)
    assert found.content.tailwater.rating.levels == (30.5, 31.0, 31.75)
    assert found.ignored == {"gauge.csv": ("Q",)}


def test_annual_maxima_of_one_named_column_with_their_years(tmp_path: Path) -> None:
    rows = [["Year", "station", "peak"], *([1990 + k, "weir", 3.0 + 0.37 * k] for k in range(20))]
    book(tmp_path / "maxima.xlsx", {"Q": rows})
    fit = 'annual_maxima = { file = "maxima.xlsx", column = "peak" }\nfit = { family = "gumbel", basis = "invented" }'
    found = study(tmp_path, (FLOW, f"{FLOW}\n{fit}"), (DEPENDENCE, ""))
    assert found.content.flow.annual_maxima == pytest.approx([3.0 + 0.37 * k for k in range(20)])
    assert found.ignored == {"maxima.xlsx": ("station",)}
    rows[3][0] = 1991
    book(tmp_path / "maxima.xlsx", {"Q": rows})
    with pytest.raises(StudyError, match=r"maxima\.xlsx row 4: expected each year once"):
        study(tmp_path, (FLOW, f"{FLOW}\n{fit}"), (DEPENDENCE, ""))


def test_a_surveyed_section_from_a_workbook(tmp_path: Path) -> None:
    book(tmp_path / "section.xlsx", {"s": [["offset_m", "level_m"], [0, 33.0], [2, 30.1], [4.5, 30.1], [6.5, 33.2]]})
    section = '{ shape = "surveyed", points = "section.xlsx", zones = [{ manning_n = 0.05 }] }'
    found = study(
        tmp_path,
        ('section = { shape = "trapezoid", bed_width_m = 2.5, side_slope = 1.5 }', f"section = {section}"),
        ('manning_n = { lognormal = { median = 0.05, cov = 0.2 }, basis = "invented" }\n', ""),
    )
    assert found.content.element[1].section.points.levels == (33.0, 30.1, 30.1, 33.2)


def test_visits_from_a_spreadsheet_with_heads_and_dates_of_its_own(tmp_path: Path) -> None:
    """The same records as those of the CSV files: `Blocked %`, dates as a spreadsheet keeps them, a column of names."""
    (tmp_path / "assets.csv").write_text(inspections.ASSETS, encoding="utf-8")
    (tmp_path / "incidents.csv").write_text(inspections.INCIDENTS, encoding="utf-8")
    text = "\n".join([inspections.HEAD, *(inspections.visit(14.0 * k, 10.0 * k).strip() for k in range(6))])
    (tmp_path / "visits.csv").write_text(text + "\n", encoding="utf-8")
    header, *rows = [line.split(",") for line in text.splitlines()]
    place = {name: header.index(name) for name in header}
    header[place["blocked_before_pct"]], header[place["asset_id"]] = "Blocked %", "Asset ID"
    cells: list[list[Any]] = [[*header, "crewman"]]
    for row in rows:
        kept: list[Any] = [*row, "anybody"]
        start = datetime.fromisoformat(row[place["time_start"]])
        assert start.tzinfo == UTC
        kept[place["time_start"]] = start.replace(tzinfo=None)
        kept[place["blocked_before_pct"]] = float(row[place["blocked_before_pct"]])
        cells.append(kept)
    book(tmp_path / "visits.xlsx", {"2020": cells})
    records = inspections.RECORDS
    plain, found = (
        study(tmp_path, (inspections.BLOCKAGE, records.replace("visits.csv", name)))
        for name in ("visits.csv", "visits.xlsx")
    )
    one, other = (each.content.element[0].screen.blockage.distribution for each in (plain, found))
    assert one.words == other.words
    assert one.median == other.median
    assert found.ignored == {"visits.xlsx": ("crewman",)}


@pytest.mark.parametrize(
    ("head", "plain"),
    [("Flow [m³/s]", "flow_m3_s"), (" Level (m) ", "level_m"), ("Blocked %", "blocked_pct"), ("level_m", "level_m"), ("Area m²", "area_m2"), ("", "")],
)  # fmt: skip
def test_heads_are_read_as_our_names(head: str, plain: str) -> None:
    assert plain_head(head) == plain


def test_a_column_that_is_there_twice_is_none() -> None:
    assert picked(["level_m", "Level [m]", "flow_m3_s"], ("flow_m3_s", "level_m"), {})[0] is None
    assert picked(["level_m", "Level [m]", "flow_m3_s"], ("flow_m3_s", "level_m"), {"level_m": "Level [m]"}) == (
        [2, 1],
        ["level_m"],
    )


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ('{ file = "rating.xlsx", sheet = "ratng" }', ('a sheet, "rating" or "notes"', 'Write "rating"')),
        ('{ file = "rating.csv", sheet = "rating" }', ("a workbook (.xlsx) where a sheet is named",)),
        (
            '{ file = "rating.csv", columns = { level_m = "Pegel" } }',
            ('a column the text "Pegel"', '"flow_m3_s" or "level_m"'),
        ),
        ('{ file = "rating.csv", colunm = "W" }', ("unknown key colunm", "column")),
        ('{ file = "rating.csv", columns = 3 }', ("a table of heads by our names",)),
        ('{ sheet = "rating" }', ("file", "Add file")),
        ('"broken.xlsx"', ("a workbook (.xlsx)", "none, or is damaged")),
        ('"no.xlsx"', ("which is not there",)),
        ('"old.xls"', ("a file of another kind (.xls)", "Save it as a workbook (.xlsx)")),
        ('"holes.xlsx"', ("row 3", "an empty cell")),
        ('"words.xlsx"', ("row 2", 'got "#DIV/0!"')),
        ('"../rating.csv"', ("which",)),
    ],
)
def test_what_cannot_be_read_is_one_message(tmp_path: Path, said: str, words: tuple[str, ...]) -> None:
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / "rating.csv").write_text(PLAIN, encoding="utf-8")
    rows = [["flow_m3_s", "level_m"], [1.5, 30.5], [6, 31.0]]
    book(folder / "rating.xlsx", {"rating": rows, "notes": []})
    book(folder / "holes.xlsx", {"rating": [rows[0], rows[1], [6, None]]})
    book(folder / "words.xlsx", {"rating": [rows[0], [1.5, "#DIV/0!"], rows[2]]})
    (folder / "broken.xlsx").write_bytes(b"PK\x03\x04 and then nothing")
    (folder / "old.xls").write_bytes(b"\xd0\xcf\x11\xe0")
    with pytest.raises(StudyError) as refused:
        rated(folder, said)
    for each in words:
        assert each in str(refused.value), str(refused.value)
    assert len(refused.value.faults) == 1


def test_a_formula_counts_as_it_was_saved_and_not_at_all_without(tmp_path: Path) -> None:
    """openpyxl works nothing out: a formula that no spreadsheet has seen is an empty cell."""
    book(tmp_path / "r.xlsx", {"r": [["flow_m3_s", "level_m"], [1.5, "=30+0.5"], [6, 31.0]]})
    with pytest.raises(StudyError, match="an empty cell"):
        rated(tmp_path, '"r.xlsx"')


def test_a_workbook_that_swells_is_refused_before_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with zipfile.ZipFile(tmp_path / "bomb.xlsx", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"0" * 2**22)
    monkeypatch.setattr(sheets, "MOST_UNPACKED", 2**21)
    with pytest.raises(PydanticCustomError, match="when unpacked"):
        Folder(tmp_path).lines("bomb.xlsx")


def test_long_sheets_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheets, "MOST_ROWS", 50)
    book(tmp_path / "long.xlsx", {"r": [["value"], *([k] for k in range(99))]})
    with pytest.raises(PydanticCustomError, match="at most 50 rows"):
        Folder(tmp_path).lines("long.xlsx")
