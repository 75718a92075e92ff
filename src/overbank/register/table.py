"""The table of a register: a row a structure, columns by the paths of a study or by the owner's own heads."""

from __future__ import annotations

import csv
import hashlib
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any, NamedTuple

from overbank.errors import Fault, StudyError
from overbank.register.defaults import Column, Defaults
from overbank.study.kinds import KINDS
from overbank.study.reading.folder import PLAIN
from overbank.study.reading.refusals import list_of, nearest, shortened

OWN = ("id", "name", "kind", "class", "region")
"""Columns of the register itself."""

LOSS = "loss"
"""Path of what is lost when the water goes over the bank [money]; a default may give it too."""

COSTS = "action."
"""Begins the head of a column with the cost of an action at each structure: action.rake.cost."""

ERRORS = ("cov", "sd")
"""Ends of a path that give the error of the number before them: coefficient of variation, standard deviation."""

ELEMENT = "element"
"""Begins a path that means the structure of whatever kind the row is: element.bank_level_m."""

ROOTS = ("flow", "tailwater", "decision", ELEMENT, *KINDS)
"""Tables of a study in which a column may lie; an element bears the word of its kind."""

MOST_BYTES = 2**31
"""No table is larger."""


class CellFault(NamedTuple):
    """What is wrong with one cell: line of the table, id of the structure, head of the column, and what to do."""

    line: int
    id: str
    column: str
    expected: str
    got: str
    remedy: str

    @property
    def words(self) -> str:
        """Where, what was expected and what came."""
        return f"line {self.line}, {self.id}, {self.column}: expected {self.expected}; got {self.got}"


@dataclass(frozen=True)
class Entry:
    """One row: a structure as its owner's table gives it.

    cells : values by their paths, blanks left out; numbers in the units of a study
    costs : of actions by their names [money]
    """

    line: int
    id: str
    name: str
    kind: str
    class_: str
    region: str
    cells: Mapping[str, Any]
    costs: Mapping[str, float]


@dataclass(frozen=True)
class Register:
    """A table that has been read.

    path, sha256 : of the file
    heads : of its columns, by the paths that they mean
    entries : the rows that can be told from each other; faults : of the others, and of single cells
    ignored : heads that nothing uses
    rows : in the table
    """

    path: Path
    sha256: str
    heads: Mapping[str, str]
    entries: tuple[Entry, ...]
    faults: tuple[CellFault, ...]
    ignored: tuple[str, ...]
    rows: int


def read_register(path: Path, defaults: Defaults) -> Register:
    """Read a table in CSV (commas, semicolons or tabs) or Parquet.

    A row that cannot be used is set aside with its faults, and none stops the rest.

    Raises
    ------
    StudyError : the table itself cannot be read: no file, no header, no id or kind
    """
    raw = _bytes(path)
    lines = _parquet(path) if path.suffix.lower() == ".parquet" else _csv(path, raw)
    if not any(any(cells) for _, cells in lines):
        raise _refused(path, "a table with a header and a row a structure", "an empty file", "Give it both.")
    (_, heads), *below = lines
    meant = [_meaning(head, defaults) for head in heads]
    _check_header(path, heads, meant)
    used = [column if column is not None and _known(column.path) else None for column in meant]
    reader = _Rows(heads, used, [str(action.name) for action in defaults.actions])
    entries = [entry for line, cells in below if (entry := reader.entry(line, cells))]
    return Register(
        path=path,
        sha256=hashlib.sha256(raw).hexdigest(),
        heads={column.path: head for head, column in zip(heads, used, strict=True) if column is not None},
        entries=tuple(entries),
        faults=tuple(reader.faults),
        ignored=tuple(head for head, column in zip(heads, used, strict=True) if column is None and head),
        rows=sum(any(cells) for _, cells in below),
    )


def _refused(path: Path, expected: str, got: str, remedy: str) -> StudyError:
    return StudyError(str(path), (Fault("the table", expected, got, remedy),))


def _bytes(path: Path) -> bytes:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise _refused(path, "at most 2 GB", f"{path.stat().st_size / 1e9:.1f} GB", "Cut it into several tables.")
        return path.read_bytes()
    except OSError as error:
        raise _refused(path, "a file that can be read", str(error.strerror or error), "Correct the path.") from None


def _csv(path: Path, raw: bytes) -> list[tuple[int, list[str]]]:
    """The rows and the line on which each begins, from 1."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _refused(path, "text in UTF-8", f"another byte in line {line}", "Save it as CSV in UTF-8.") from None
    rows = text.replace("\r\n", "\n").replace("\r", "\n").removesuffix("\n").split("\n")  # other signs end no row
    reader, lines, line = csv.reader(rows, delimiter=max(",;\t", key=rows[0].count), strict=True), [], 1
    try:
        for cells in reader:
            lines.append((line, [cell.strip() for cell in cells]))
            line = reader.line_num + 1
    except csv.Error as error:  # a quote that is never closed would swallow the rows below it
        raise _refused(path, "a table in CSV", f"{error}, from line {line} on", "Close the quotes there.") from None
    return lines


def _parquet(path: Path) -> list[tuple[int, list[str]]]:
    import pandas as pd  # slow to fetch

    try:
        table = pd.read_parquet(path)
    except (OSError, ValueError) as error:
        raise _refused(path, "a table in Parquet", shortened(str(error)), "Write it anew.") from None
    blank = table.isna()
    texts = table.astype(object).map(lambda value: str(value).strip()).mask(blank, "")
    return list(enumerate([[str(head) for head in table.columns], *texts.to_numpy().tolist()], start=1))


def _meaning(head: str, defaults: Defaults) -> Column | None:
    """What a head means: as the owner says, or a path of its own; None for an empty one."""
    return defaults.columns.get(head) or (Column(head) if head else None)


def _known(path: str) -> bool:
    root, _, rest = path.partition(".")
    return path in (*OWN, LOSS) or (bool(rest) and root in ROOTS) or path.startswith(COSTS)


def of_kind(path: str, kind: str) -> str:
    """A path with the word of a kind in place of `element`."""
    return f"{kind}{path.removeprefix(ELEMENT)}" if path.startswith(f"{ELEMENT}.") else path


def _check_header(path: Path, heads: list[str], meant: list[Column | None]) -> None:
    paths = [column.path for column in meant if column is not None]
    faults = [
        Fault("the header", f"a column {name}", f"{len(heads)} columns without it", "Add it, or name it in [columns].")
        for name in ("id", "kind")
        if name not in paths
    ]
    faults += [
        Fault("the header", "every column once", f"{paths.count(each)} columns that mean {each}", "Keep one of them.")
        for each in dict.fromkeys(paths)
        if paths.count(each) > 1
    ]
    if faults:
        raise StudyError(str(path), tuple(faults))


class _Rows:
    """Reads row after row, and keeps what is wrong with them."""

    def __init__(self, heads: list[str], columns: list[Column | None], actions: list[str]) -> None:
        self.heads, self.columns, self.actions = heads, columns, actions
        self.faults: list[CellFault] = []
        self.seen: Counter[str] = Counter()

    def entry(self, line: int, cells: list[str]) -> Entry | None:
        """The row; None where it is blank, or cannot be told from others or read at all."""
        if not any(cells):
            return None
        own = dict(zip((each.path if each else "" for each in self.columns), cells, strict=False))
        name = own.get("id", "")
        faults = list(self._of_row(line, name, own, len(cells)))
        found, costs = dict[str, Any](), dict[str, float]()
        for head, column, text in zip(self.heads, self.columns, cells, strict=False):
            if column is None or column.path in OWN or not text:
                continue
            value, words = read_cell(text, column.factor)
            if words:
                faults.append(CellFault(line, name, head, words, f'"{shortened(text)}"', "Correct the cell."))
            elif column.path.startswith(COSTS):
                faults += self._cost(line, name, head, column.path, value, costs)
            else:
                found[of_kind(column.path, own.get("kind", ""))] = value
        self.faults += faults
        if faults:
            return None
        title, kind, class_, region = (own.get(each, "") for each in ("name", "kind", "class", "region"))
        return Entry(line, name, title, kind, class_, region, found, costs)

    def _of_row(self, line: int, name: str, own: Mapping[str, str], count: int) -> Iterator[CellFault]:
        if count != len(self.heads):
            expected = f"{len(self.heads)} cells, as in the header"
            yield CellFault(line, name, "", expected, f"{count} cells", "Correct the row.")
            return
        self.seen[name] += 1
        if not name:
            yield CellFault(line, name, "id", "an id", "an empty cell", "Fill it in.")
        elif self.seen[name] > 1:
            yield CellFault(line, name, "id", "an id that no other row bears", "it once more", "Rename one of them.")
        if own.get("kind") not in KINDS:
            near = nearest(own.get("kind", ""), tuple(KINDS))
            remedy = f'Write "{near}".' if near else "Write one of these words."
            got = f'"{shortened(own.get("kind", ""))}"'
            yield CellFault(line, name, "kind", list_of(tuple(KINDS)), got, remedy)

    def _cost(
        self, line: int, name: str, head: str, path: str, value: Any, costs: dict[str, float]
    ) -> Iterator[CellFault]:
        action = path.removeprefix(COSTS).removesuffix(".cost")
        if action not in self.actions:
            expected = list_of(self.actions) if self.actions else "an [[action]] of that name in the defaults"
            yield CellFault(line, name, head, expected, f'"{shortened(action)}"', "Name the action in the defaults.")
        elif isinstance(value, bool) or not isinstance(value, int | float) or not 0.0 <= value < 1e15:
            yield CellFault(line, name, head, "a cost from 0", f'"{shortened(str(value))}"', "Correct the cell.")
        else:
            costs[action] = float(value)


def read_cell(text: str, factor: float = 1.0) -> tuple[Any, str]:
    """A cell's value, and what was expected where it is none.

    A number, true or false, a distribution or a list in brackets as in TOML; else it is a word.
    """
    value, expected = _value(text)
    if factor == 1.0 or expected:
        return value, expected
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None, "a plain number in the unit of its column"
    return value * factor, ""


def _value(text: str) -> tuple[Any, str]:
    if text[0] in "{[":
        try:
            return tomllib.loads(f"cell = {text}")["cell"], ""
        except (ValueError, RecursionError):
            return None, "a distribution or a list as in TOML"
    if text in ("true", "false"):
        return text == "true", ""
    try:
        number = float(text)
    except ValueError:
        return text, ""
    if not (isfinite(number) and PLAIN.fullmatch(text)):
        return None, "a plain number in digits"
    return (int(text) if text.lstrip("+-").isdecimal() else number), ""
