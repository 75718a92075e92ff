"""The tables of a run as one workbook, for a spreadsheet: openpyxl (MIT licence).

Every number keeps all its digits and is shown rounded; no text is ever worked out as a formula. The same results give
the same bytes.
"""

from __future__ import annotations

import csv
import io
import math
import re
import zipfile
from datetime import datetime
from pathlib import Path
from typing import Any

from overbank.report.statement import FILE as STATEMENT

FILE = "results.xlsx"

EPOCH = datetime(1980, 1, 1)
"""Stands for the time at which it was written, so that it says nothing of that."""

MODIFIED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*")

NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?", re.ASCII)

UNITS = (
    ("_m3_s", "m\u00b3/s", "0.00"),
    ("_m2", "m\u00b2", "0.00"),
    ("_m3", "m\u00b3", "0.0"),
    ("_m_s", "m/s", "0.00"),
    ("_mm", "mm", "0"),
    ("_m", "m", "0.00"),
    ("_years", "years", "0"),
    ("_hours", "h", "0.00"),
    ("_s", "s", "0.00"),
)
"""Ends of the names of columns, their unit, and how their numbers are shown."""

ORDINARY, WHOLE = "0.0000", "0"
"""How numbers are shown whose column says no unit: probabilities, shares and indices; and whole ones."""

TEXT = "a text"
"""The style of cells that hold a text: a spreadsheet does not work it out when it is touched either."""

KEPT = re.compile(r"'[\s\x00-\x1f\u200b\ufeff]*[=+\-@\uff1d\uff0b\uff0d\uff20\t]")
"""How a text begins that has an apostrophe in the CSV table for no other reason than not to be worked out."""

NO_STATEMENT = "No statement: the run was not asked for every figure that it says."

LONGEST_NAME, WIDEST = 31, 60
"""Letters of the name of a sheet, and of a column."""

NOT_IN_A_NAME = re.compile(r"[\[\]:*?/\\]")

PICTURES = {"exceedance": ("level_m", "probability"), "overtopping_by_blockage": ("blockage", "probability")}
"""Tables with a chart beside them: what goes across and what goes up."""


def write_workbook(results: Path, file: Path) -> None:
    """Write statement and tables of a folder of results into a workbook: a sheet a table, the statement first."""
    from openpyxl import Workbook
    from openpyxl.styles import NamedStyle

    book = Workbook()
    text = NamedStyle(TEXT)
    text.number_format = "@"
    book.add_named_style(text)
    first = book.active
    first.title = "statement"
    first.column_dimensions["A"].width = 110
    statement = results / STATEMENT
    words = statement.read_text(encoding="utf-8") if statement.is_file() else NO_STATEMENT
    for line in words.splitlines():
        _say(first, (line,), wrapped=True)
    for table in sorted(results.glob("*.csv")):
        _sheet(book, table)
    book.properties.creator, book.properties.created = "overbank", EPOCH
    written = io.BytesIO()
    book.save(written)
    file.write_bytes(_without_times(written))


def _sheet(book: Any, table: Path) -> None:
    """A table: its heads in words, frozen and with filters, columns as wide as they need be."""
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    with table.open(encoding="utf-8", newline="") as opened:
        header, *rows = list(csv.reader(opened)) or [[]]
    sheet = book.create_sheet(NOT_IN_A_NAME.sub("_", table.stem)[:LONGEST_NAME])
    _say(sheet, [_head(name) for name in header])
    for cell in sheet[1]:
        cell.font, cell.alignment = Font(bold=True), Alignment(wrap_text=True, vertical="top")
    columns = [[_value(row[place]) if place < len(row) else None for row in rows] for place in range(len(header))]
    formats = [_format(name, column) for name, column in zip(header, columns, strict=True)]
    for row in zip(*columns, strict=True):
        _say(sheet, row, formats)
    sheet.freeze_panes = "A2"
    if header:
        sheet.auto_filter.ref = f"A1:{get_column_letter(len(header))}{len(rows) + 1}"
    for place, (name, column) in enumerate(zip(header, columns, strict=True), start=1):
        longest = max([len(_head(name)) / 2, *(len(value) for value in column if isinstance(value, str)), 9])
        sheet.column_dimensions[get_column_letter(place)].width = min(longest + 2, WIDEST)
    _chart(sheet, table.stem, header, len(rows))


def _say(sheet: Any, values: Any, formats: list[str] | None = None, wrapped: bool = False) -> None:
    """A row; a text is written as one whatever it begins with, so that no spreadsheet works it out."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Alignment

    cells = []
    for place, value in enumerate(values):
        cell = WriteOnlyCell(sheet, value=_legible(value) if isinstance(value, str) else value)
        if isinstance(value, str):
            cell.data_type = "s"
            cell.style = TEXT
        elif formats is not None and not isinstance(value, bool):
            cell.number_format = formats[place]
        if wrapped:
            cell.alignment = Alignment(wrap_text=True, vertical="top")
        cells.append(cell)
    sheet.append(cells)


def _legible(text: str) -> str:
    """Without control characters, which no workbook may hold."""
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    return str(ILLEGAL_CHARACTERS_RE.sub("\ufffd", text))[:32767]


def _head(name: str) -> str:
    """The head of a column with its unit in brackets."""
    suffix, unit, _ = _unit(name)
    words = name.removesuffix(suffix).replace("_", " ")
    return f"{words} [{unit}]" if unit else words


def _unit(name: str) -> tuple[str, str, str]:
    return next((each for each in UNITS if name.endswith(each[0])), ("", "", ""))


def _value(text: str) -> Any:
    """A number, yes or no, nothing, or a text without the apostrophe that kept it from being worked out."""
    if not text:
        return None
    if NUMBER.fullmatch(text) and math.isfinite(float(text)):
        return float(text)
    return {"True": True, "False": False}.get(text, text[1:] if KEPT.match(text) else text)


def _format(name: str, column: list[Any]) -> str:
    numbers = [value for value in column if isinstance(value, float)]
    if numbers and all(value == round(value) for value in numbers) and not _unit(name)[1]:
        return WHOLE
    return _unit(name)[2] or ORDINARY


def _chart(sheet: Any, name: str, header: list[str], rows: int) -> None:
    """A line beside a table that is a curve."""
    across, up = PICTURES.get(name, ("", ""))
    if across not in header or up not in header or rows < 2:
        return
    from openpyxl.chart import Reference, ScatterChart, Series
    from openpyxl.utils import get_column_letter

    chart = ScatterChart(scatterStyle="lineMarker")
    chart.title, chart.legend = name.replace("_", " "), None
    chart.x_axis.title, chart.y_axis.title = _head(across), _head(up)
    chart.x_axis.delete = chart.y_axis.delete = False
    places = (header.index(across) + 1, header.index(up) + 1)
    x, y = (Reference(sheet, min_col=place, min_row=2, max_row=rows + 1) for place in places)
    series = Series(y, x)
    series.marker.symbol = "none"
    chart.series.append(series)
    sheet.add_chart(chart, f"{get_column_letter(len(header) + 2)}2")


def _without_times(written: io.BytesIO) -> bytes:
    """The same workbook with one time everywhere."""
    clean = io.BytesIO()
    with zipfile.ZipFile(written) as packed, zipfile.ZipFile(clean, "w", zipfile.ZIP_DEFLATED) as again:
        for part in packed.namelist():
            content = packed.read(part)
            if part == "docProps/core.xml":
                content = MODIFIED.sub(rb"\g<1>" + EPOCH.strftime("%Y-%m-%dT%H:%M:%SZ").encode(), content)
            again.writestr(zipfile.ZipInfo(part, EPOCH.timetuple()[:6]), content, zipfile.ZIP_DEFLATED)
    return clean.getvalue()
