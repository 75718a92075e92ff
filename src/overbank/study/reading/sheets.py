"""Tables as lines of cells: from CSV files, and from the sheets of workbooks (.xlsx)."""

from __future__ import annotations

import csv
import re
import warnings
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, PlainValidator
from pydantic_core import PydanticCustomError

from overbank.study.reading.plain import Text
from overbank.study.reading.refusals import choose, list_of, refusal, shown
from overbank.study.reading.table import Table

Lines = list[tuple[int, list[str]]]
"""Cells of every line that is not blank, with the number of the line."""

MOST_BYTES, MOST_ROWS, MOST_CELLS = 2**26, 100_000, 500
"""A table is not larger, no table has more rows, and no row of a workbook more cells."""

MOST_UNPACKED = 2**29
"""What a workbook may hold when it is unpacked [bytes]."""

WORKBOOKS = (".xlsx", ".xlsm")

OTHER_BOOKS = (".xls", ".ods", ".xlsb", ".numbers")

OTHER_SEPARATORS = {";": "semicolons", "\t": "tabs"}
"""What other programs put between the cells of a table."""


@dataclass(frozen=True)
class Source:
    """Where a table stands.

    label : what messages call it
    file : name of the file in the study's folder
    sheet : of a workbook; the first one where it is empty
    column, columns : heads in the file: of the one column that is wanted, or of several by our names
    """

    label: str
    file: Any
    sheet: str = ""
    column: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)

    def heads(self, header: tuple[str, ...]) -> dict[str, str]:
        """Heads in the file, by our names."""
        return {**self.columns, **({header[-1]: self.column} if self.column else {})}


def _read_columns(raw: Any) -> dict[str, str]:
    if not isinstance(raw, dict) or not raw or not all(isinstance(head, str) for head in raw.values()):
        raise refusal(
            "a table of heads by our names", shown(raw), 'Write columns = { flow_m3_s = "Q max" }, for example.'
        )
    return dict(raw)


class TableName(Table):
    """A table in a file, its sheet and the heads of its columns, where the name of the file does not say it all."""

    file: Text = Field(description="the name of a CSV file or of a workbook (.xlsx) in the study's own folder")
    sheet: Text | None = Field(None, description="the name of the sheet of a workbook; the first one if left out")
    column: Text | None = Field(None, description="the head of the column, where one is wanted")
    columns: Annotated[dict[str, str], PlainValidator(_read_columns)] | None = Field(
        None, description="a table of the heads in the file by our names"
    )


def source_of(raw: Any) -> Source:
    """What a study says of a table: the name of its file, or a table with more."""
    if not isinstance(raw, dict):
        return Source(raw if isinstance(raw, str) else "the table", raw)
    read = TableName.model_validate(raw)
    label = f"{read.file}, sheet {read.sheet}" if read.sheet else read.file
    return Source(label, read.file, read.sheet or "", read.column or "", read.columns or {})


def _read_said(raw: Any) -> Any:
    if not isinstance(raw, str | dict):
        expected = "the name of a file, or a table with the key file"
        raise refusal(expected, shown(raw), 'Write "visits.csv", for example.')
    source_of(raw)
    return raw


TableSaid = Annotated[str | dict[str, Any], PlainValidator(_read_said)]
"""What a study says of a table that is read elsewhere."""

UNITS = str.maketrans({"³": "3", "²": "2", "%": " pct "})


def plain_head(head: str) -> str:
    """A head as our names are written: `Flow [m³/s]` is flow_m3_s, `Blocked %` is blocked_pct."""
    return "_".join(re.findall(r"[a-z0-9]+", head.strip().lower().translate(UNITS)))


def picked(header: list[str], wanted: tuple[str, ...], given: Mapping[str, str]) -> tuple[list[int] | None, list[str]]:
    """The place of every wanted column, None where one is missing or there twice; and the heads that nobody wants.

    Raises
    ------
    a refusal, where a head that the study gives is not there
    """
    heads = [cell.strip() for cell in header]
    plain = [plain_head(head) for head in heads]
    places: list[int] = []
    for name in wanted:
        head = given.get(name)
        if head is not None and head not in heads:
            raise refusal(
                f"a column {shown(head)}", f"the heads {list_of(heads)}" if heads else "none", choose(head, heads)
            )
        same = [place for place in range(len(heads)) if (heads[place] == head if head else plain[place] == name)]
        if len(same) != 1:
            return None, []
        places += same
    return places, [head for place, head in enumerate(heads) if place not in places and head]


def lines_of(path: Path, source: Source) -> Lines:
    """The cells of every line of a table that is not blank."""
    suffix = path.suffix.lower()
    try:
        if path.stat().st_size > MOST_BYTES:
            expected, got = f"a table of at most {MOST_BYTES / 1e6:.0f} MB", f"{path.stat().st_size / 1e6:,.0f} MB"
            raise refusal(expected, got, "Keep only the rows that are needed.", source.label)
        if suffix in WORKBOOKS:
            lines = _of_workbook(path, source)
        elif suffix in OTHER_BOOKS:
            remedy = "Save it as a workbook (.xlsx) or as CSV in UTF-8."
            raise refusal(
                "a CSV file or a workbook (.xlsx)", f"a file of another kind ({suffix})", remedy, source.label
            )
        else:
            lines = _of_csv(path, source)
    except OSError as error:
        got = f"a file that cannot be read ({error.strerror or error})"
        raise refusal("a CSV file", got, "Check the file and its permissions.", source.label) from None
    if len(lines) > MOST_ROWS:
        expected, got = f"at most {MOST_ROWS:,} rows", f"{len(lines):,}"
        raise refusal(expected, got, "Keep only the rows that are needed.", source.label)
    return lines


def _of_csv(path: Path, source: Source) -> Lines:
    if source.sheet:
        remedy = "Remove sheet, or name a workbook."
        raise refusal("a workbook (.xlsx) where a sheet is named", f'"{source.file}"', remedy, source.label)
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.reader(file)
            lines = [(reader.line_num, cells) for cells in reader if any(cell.strip() for cell in cells)]
    except UnicodeDecodeError:
        remedy = "Save it as CSV in UTF-8, or as a workbook with the ending .xlsx."
        raise refusal("a CSV file in UTF-8", "bytes that are not", remedy, source.label) from None
    except csv.Error as error:
        raise refusal("a CSV file", f"{error}", "Correct the file.", source.label) from None
    for mark, word in OTHER_SEPARATORS.items():
        if lines and len(lines[0][1]) == 1 and mark in lines[0][1][0]:
            remedy = "Save it with commas between the cells, and points as decimal marks."
            raise refusal("commas between the cells", word, remedy, f"{source.label} row {lines[0][0]}")
    return lines


def _of_workbook(path: Path, source: Source) -> Lines:
    """Values of a sheet as they were when it was last saved; formulas are not worked out."""
    from openpyxl import load_workbook  # a study without workbooks needs none

    try:
        with zipfile.ZipFile(path) as packed:
            unpacked = sum(part.file_size for part in packed.infolist())
        if unpacked > MOST_UNPACKED:
            got = f"{unpacked / 1e6:,.0f} MB when unpacked"
            expected = f"a workbook of at most {MOST_UNPACKED / 1e6:.0f} MB"
            raise refusal(expected, got, "Keep only the sheet that is needed.", source.label)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of decorations that are not kept
            book = load_workbook(path, read_only=True, data_only=True)
            try:
                return list(_of_sheet(_sheet(book, source)))
            finally:
                book.close()
    except PydanticCustomError:
        raise
    except (zipfile.BadZipFile, KeyError, ValueError, TypeError, EOFError, SyntaxError):
        remedy = "Open it and save it anew as a workbook (.xlsx)."
        raise refusal("a workbook (.xlsx)", "a file that is none, or is damaged", remedy, source.label) from None


def _sheet(book: Any, source: Source) -> Any:
    names = [sheet.title for sheet in book.worksheets]
    if source.sheet and source.sheet not in names:
        remedy = choose(source.sheet, names)
        raise refusal(f"a sheet, {list_of(names)}", f'"{source.sheet}"', remedy, source.label)
    return book[source.sheet] if source.sheet else book.worksheets[0]


def _of_sheet(sheet: Any) -> Iterator[tuple[int, list[str]]]:
    """Rows that are not blank, without the empty cells at the end of all of them."""
    wide = 0
    for number, row in enumerate(sheet.iter_rows(values_only=True, max_col=MOST_CELLS), start=1):
        cells = [_text(value) for value in row]
        while cells and not cells[-1].strip():
            cells.pop()
        if cells:
            wide = wide or len(cells)
            yield number, cells + [""] * (wide - len(cells))
        if number > MOST_ROWS:
            yield number, ["..."]
            return


def _text(value: Any) -> str:
    """A cell as a CSV file would have it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return f"{value:.15g}"
    return value.isoformat() if isinstance(value, datetime | date) else str(value)
