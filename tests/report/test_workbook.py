"""results.xlsx: what openpyxl reads back is what the CSV tables hold, to the last digit, and nothing is a formula."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

from overbank.commands.cli import report
from overbank.errors import DomainError, FolderError
from overbank.files.folders import fresh_folder
from overbank.files.owned import MARK, listing, sha256
from overbank.files.spreadsheets import write_csv
from overbank.report.workbook import write_workbook

NASTY = (
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    '=HYPERLINK("x")',
    " =1+1",
    "\u200b=1",
    "\uff1d1+1",
    "#DIV/0!",
    "'said'",
    "1e3x",
)
"""Texts that a spreadsheet would work out (CWE-1236, from memory, unverified), an error, and three that are none."""

CURVE = pd.DataFrame(
    {"level_m": [31.0 + np.pi / 1000.0 * k for k in range(5)], "probability": [0.9, 0.5, 1.0 / 3.0, 1e-7, 0.0]}
)
TEXTS = pd.DataFrame(
    {"input": NASTY, "flow_m3_s": [1.5, np.inf, *range(10)], "years": range(12), "yes": [True, False] * 6}
)


@pytest.fixture
def results(tmp_path: Path) -> Path:
    """A folder of results, as a run leaves it."""
    with fresh_folder(tmp_path / "results") as staging:
        write_csv(CURVE, staging / "exceedance.csv")
        write_csv(TEXTS, staging / "a_table_whose_name_is_longer_than_a_sheet_may_bear.csv")
        (staging / "empty.csv").write_text("", encoding="utf-8")
        (staging / "statement.txt").write_text("=The level is 31.5 m.\n\nAn aid to judgement.\n", encoding="utf-8")
        (staging / MARK).write_text(json.dumps({"written_by": "overbank 0", **listing(staging)}), encoding="utf-8")
    return tmp_path / "results"


def test_every_table_is_a_sheet_and_the_statement_comes_first(
    results: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report(results, xlsx=True)
    assert "results.xlsx" in capsys.readouterr().out
    book = openpyxl.load_workbook(results / "results.xlsx")
    assert book.sheetnames == ["statement", "a_table_whose_name_is_longer_th", "empty", "exceedance"]
    assert [row[0].value for row in book["statement"].iter_rows()] == [
        "=The level is 31.5 m.",
        None,
        "An aid to judgement.",
    ]
    told = json.loads((results / MARK).read_text(encoding="utf-8"))
    assert told["files_sha256"]["results.xlsx"] == sha256(results / "results.xlsx")


def test_numbers_keep_their_digits_and_are_shown_rounded(results: Path) -> None:
    write_workbook(results, results / "results.xlsx")
    sheet = openpyxl.load_workbook(results / "results.xlsx")["exceedance"]
    (heads, *rows) = sheet.iter_rows()
    assert [cell.value for cell in heads] == ["level [m]", "probability"]
    assert all(cell.font.bold for cell in heads)
    for row, (level, probability) in zip(rows, CURVE.itertuples(index=False), strict=True):
        assert [cell.value for cell in row] == [level, probability]
        assert [cell.number_format for cell in row] == ["0.00", "0.0000"]
    assert sheet.freeze_panes == "A2"
    assert sheet.auto_filter.ref == "A1:B6"


def test_no_text_is_a_formula_and_each_is_what_it_was(results: Path) -> None:
    write_workbook(results, results / "results.xlsx")
    book = openpyxl.load_workbook(results / "results.xlsx")
    column = [row[0] for row in book.worksheets[1].iter_rows(min_row=2)]
    assert [cell.value for cell in column] == list(NASTY)
    assert {cell.data_type for cell in column} == {"s"}
    assert {cell.number_format for cell in column} == {"@"}
    flows = [row[1].value for row in book.worksheets[1].iter_rows(min_row=2)]
    assert flows[:3] == [1.5, "inf", 0]
    assert [row[3].value for row in book.worksheets[1].iter_rows(min_row=2)] == [True, False] * 6
    with zipfile.ZipFile(results / "results.xlsx") as packed:
        sheets = [packed.read(part) for part in packed.namelist() if part.startswith("xl/worksheets/sheet")]
    assert len(sheets) == 4
    assert not any(b"<f>" in sheet or b"<f " in sheet or b't="e"' in sheet for sheet in sheets)


def test_a_curve_has_a_picture_beside_it(results: Path) -> None:
    write_workbook(results, results / "results.xlsx")
    with zipfile.ZipFile(results / "results.xlsx") as packed:
        charts = [packed.read(part).decode() for part in packed.namelist() if part.startswith("xl/charts/")]
    assert len(charts) == 1
    assert "'exceedance'!$A$2:$A$6" in charts[0]
    assert "'exceedance'!$B$2:$B$6" in charts[0]


def test_the_same_results_give_the_same_bytes(results: Path, tmp_path: Path) -> None:
    for name in ("one.xlsx", "other.xlsx"):
        write_workbook(results, tmp_path / name)
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "other.xlsx").read_bytes()
    with zipfile.ZipFile(tmp_path / "one.xlsx") as packed:
        assert {part.date_time[0] for part in packed.infolist()} == {1980}
        assert b"1980-01-01T00:00:00Z" in packed.read("docProps/core.xml")


def test_without_results_or_without_a_wish_there_is_a_message(results: Path, tmp_path: Path) -> None:
    with pytest.raises(DomainError, match="--pdf, --docx or --xlsx"):
        report(results)
    with pytest.raises(FolderError, match="expected a folder of results"):
        report(tmp_path, xlsx=True)
    (results / "results.xlsx").write_text("mine", encoding="utf-8")
    with pytest.raises(FolderError, match="got another file"):
        report(results, xlsx=True)
