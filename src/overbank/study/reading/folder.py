"""The study's own folder: tables that a study names are read from it, and from nowhere else."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

from pydantic import ValidationInfo

from overbank.study.reading.plain import as_float
from overbank.study.reading.refusals import LocatedRefusal, refusal, refusals, shortened, shown
from overbank.study.reading.sheets import Lines, Source, lines_of, picked, plain_head, source_of
from overbank.study.reading.unit_names import twin_heads

MOST_ROWS = 10
"""Faulty rows of one file that are listed one by one."""


DATED = ("year", "flow_m3_s")
"""The header of annual maxima that say of which years they are."""

DAYS = ("date", "flow_m3_s")
"""The header of floods that say on which days they were."""

MOST_IN_A_YEAR = 2
"""Annual maxima of one calendar year at most: a year that begins in autumn may leave it two."""


@dataclass(frozen=True)
class RatingTable:
    """A rating: level [m] at each flow [m3/s], flows rising from row to row, levels never falling."""

    name: str
    flows: tuple[float, ...]
    levels: tuple[float, ...]


@dataclass(frozen=True)
class SurveyPoints:
    """Points of a surveyed section: offsets across it that never go back [m], and levels of the ground [m]."""

    name: str
    offsets: tuple[float, ...]
    levels: tuple[float, ...]


@dataclass(frozen=True)
class HydrographTable:
    """A flood as a table: times in times to its peak, shares of its peak, hours from its beginning to its peak."""

    name: str
    times: tuple[float, ...]
    shares: tuple[float, ...]
    hours_to_peak: float


@dataclass(frozen=True)
class PoolTable:
    """A pool as a table: levels [m], and the area [m2] or the volume [m3] at each."""

    name: str
    levels: tuple[float, ...]
    amounts: tuple[float, ...]
    of_areas: bool


MOST_YEARS = 1000
"""No record of annual maxima is longer."""

PLAIN = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?", re.ASCII)
"""A number in a cell: no underscores, which would make 327 of 3_27, and no digits of other scripts."""

LOWEST, HIGHEST = -500.0, 9000.0
"""Levels between which ground can be [m]."""


AREAS, VOLUMES = ("level_m", "area_m2"), ("level_m", "volume_m3")
"""Headers of a table of a pool."""


class Folder:
    """Reads the tables that a study names; a name that leads out of the folder is refused.

    sha256 : of each file that was read, by the name that the study gives it
    ignored : heads of columns of each table that nothing uses
    """

    def __init__(self, path: Path) -> None:
        self.path = path.resolve()
        self.sha256: dict[str, str] = {}
        self.ignored: dict[str, tuple[str, ...]] = {}
        self._rows: dict[str, list[tuple[int, list[float]]]] = {}

    def rating(self, said: Any) -> RatingTable:
        """The rating in a CSV file with the header flow_m3_s,level_m."""
        name, rows = self._numbers(said, ("flow_m3_s", "level_m"))
        faults: list[LocatedRefusal] = []
        for (_, (flow_before, level_before)), (row, (flow, level)) in pairwise(rows):
            if flow <= flow_before:
                expected = f"a flow above that of the row before it, {flow_before:g}"
                faults.append(row_fault(name, row, expected, f"{flow:g}", "Sort the rows by rising flow."))
            if level < level_before:
                expected = f"a level not below that of the row before it, {level_before:g}"
                faults.append(row_fault(name, row, expected, f"{level:g}", "Correct the level."))
        if rows and rows[0][1][0] < 0:
            faults.append(row_fault(name, rows[0][0], "a flow not below 0", f"{rows[0][1][0]:g}", "Correct it."))
        if len(rows) < 2:
            fault = refusal("at least two rows of flow and level", f"{len(rows)}", "Add rows to the file.", name)
            faults.append(((), fault))
        if faults:
            raise refusals(first_faults(faults, name))
        return RatingTable(name, *zip(*(tuple(pair) for _, pair in rows), strict=True))

    def hydrograph(self, said: Any) -> HydrographTable:
        """The flood in a CSV file with the header hours,flow_m3_s, its peak between its first and its last row."""
        name, rows = self._numbers(said, ("hours", "flow_m3_s"))
        faults = [
            row_fault(name, row, f"hours above those of the row before it, {before:g}", f"{hours:g}", "Sort the rows.")
            for (_, (before, _)), (row, (hours, _)) in pairwise(rows)
            if hours <= before
        ]
        faults += [
            row_fault(name, row, "a flow not below 0", f"{flow:g}", "Correct the flow.")
            for row, (_, flow) in rows
            if flow < 0.0
        ]
        flows = [flow for _, (_, flow) in rows]
        if not faults and (len(rows) < 3 or not max(flows) > max(flows[0], flows[-1])):
            expected = "at least three rows, the largest flow neither in the first nor in the last"
            faults.append(((), refusal(expected, f"{len(rows)} rows", "Add the rise or the fall to the file.", name)))
        if faults:
            raise refusals(first_faults(faults, name))
        begin, peak = rows[0][1][0], rows[flows.index(max(flows))][1][0]
        times = tuple((hours - begin) / (peak - begin) for _, (hours, _) in rows)
        return HydrographTable(name, times, tuple(flow / max(flows) for flow in flows), peak - begin)

    def pool(self, said: Any) -> PoolTable:
        """The pool in a CSV file with the header level_m,area_m2 or level_m,volume_m3."""
        of_areas = self._has(said, AREAS)
        if not of_areas and not self._has(said, VOLUMES):
            expected, written = f"the header {','.join(AREAS)} or {','.join(VOLUMES)}", self.header(said)
            got = f'"{shortened(",".join(written))}"' if written else "an empty file"
            place = f"{source_of(said).label} row 1"
            raise refusal(expected, got, "Make one of them the first line of the file.", place)
        name, rows = self._numbers(said, AREAS if of_areas else VOLUMES)
        faults: list[LocatedRefusal] = []
        for (_, (level_before, before)), (row, (level, amount)) in pairwise(rows):
            if level <= level_before:
                expected = f"a level above that of the row before it, {level_before:g}"
                faults.append(row_fault(name, row, expected, f"{level:g}", "Sort the rows by rising level."))
            if amount < before and not of_areas:
                expected = f"a volume not below that of the row before it, {before:g}"
                faults.append(row_fault(name, row, expected, f"{amount:g}", "Correct the volume."))
        for row, (level, amount) in rows:
            if not LOWEST <= level <= HIGHEST:
                expected = f"a level [m] from {LOWEST:g} to {HIGHEST:g}"
                faults.append(row_fault(name, row, expected, f"{level:g}", "Correct the level."))
            if amount < 0.0:
                faults.append(row_fault(name, row, "an area or volume not below 0", f"{amount:g}", "Correct it."))
        if len(rows) < 2:
            fault = refusal("at least two rows of level and area or volume", f"{len(rows)}", "Add rows.", name)
            faults.append(((), fault))
        if faults:
            raise refusals(first_faults(faults, name))
        levels, amounts = zip(*(pair for _, pair in rows), strict=True)
        return PoolTable(name, levels, amounts, of_areas)

    def survey(self, name: Any) -> SurveyPoints:
        """The section in a CSV file with the header offset_m,level_m."""
        return self._points(name, 3)

    def profile(self, name: Any) -> SurveyPoints:
        """The profile along a crest, in a file like that of a section; two points will do."""
        return self._points(name, 2)

    def _points(self, said: Any, least: int) -> SurveyPoints:
        name, rows = self._numbers(said, ("offset_m", "level_m"))
        faults: list[LocatedRefusal] = []
        for (_, (before, _)), (row, (offset, _)) in pairwise(rows):
            if offset < before:
                expected = f"an offset not below that of the row before it, {before:g}"
                remedy = "Sort the rows across the section; an overhanging bank cannot be used."
                faults.append(row_fault(name, row, expected, f"{offset:g}", remedy))
        for row, (_, level) in rows:
            if not LOWEST <= level <= HIGHEST:
                expected = f"a level [m] from {LOWEST:g} to {HIGHEST:g}"
                faults.append(row_fault(name, row, expected, f"{level:g}", "Correct the level."))
        offsets = [offset for _, (offset, _) in rows]
        if len(rows) < least:
            expected = f"at least {'three' if least == 3 else 'two'} rows of offset and level"
            faults.append(((), refusal(expected, f"{len(rows)}", "Add rows to the file.", name)))
        elif min(offsets) == max(offsets):
            fault = refusal("points at two offsets or more", f"all at {offsets[0]:g}", "Correct the offsets.", name)
            faults.append(((), fault))
        if faults:
            raise refusals(first_faults(faults, name))
        return SurveyPoints(name, *zip(*(tuple(pair) for _, pair in rows), strict=True))

    def rows(self, said: Any, header: tuple[str, ...]) -> tuple[str, list[tuple[int, list[float]]]]:
        """What messages call a table with this header, and its rows as (line of the file, numbers)."""
        return self._numbers(said, header)

    def column(self, said: Any) -> tuple[float, ...]:
        """The observed values in a CSV file with the header value."""
        name, rows = self._numbers(said, ("value",))
        if len(rows) < 2:
            raise refusal("at least two observed values", f"{len(rows)}", "Add rows to the file.", name)
        return tuple(values[0] for _, values in rows)

    def maxima(self, said: Any, least: float, most: float) -> tuple[float, ...]:
        """The annual maxima in a CSV file with the header flow_m3_s, and year or date before it: 0, or from least to
        most."""
        of, name, rows = self._flows(said)
        faults = _twice(rows, name, of) + (_too_many_in_a_year(rows, name) if of == DAYS else [])
        rows = [(row, numbers[-1:]) for row, numbers in rows]
        faults += [
            row_fault(name, row, f"a flow [m3/s] from {least:g} to {most:g}, or 0", f"{flow:g}", "Correct the flow.")
            for row, (flow,) in rows
            if flow != 0.0 and not least <= flow <= most
        ]
        if len(rows) > MOST_YEARS:
            expected = f"the largest flow of each year, of at most {MOST_YEARS} years"
            remedy = "Keep the largest flow of each year only; these may be flows of each day."
            faults = [((), refusal(expected, f"{len(rows)} rows", remedy, name))]
        flows = tuple(flow for _, (flow,) in rows)
        half = len(flows) // 2
        if half >= LEAST_TWICE and len(set(flows)) > 1 and flows == 2 * flows[:half]:
            expected = "each annual maximum once"
            got = f"{half} rows, and the same rows in the same order again from here on"
            faults.append(row_fault(name, rows[half][0], expected, got, "Remove the second half of the file."))
        if faults:
            raise refusals(first_faults(faults, name))
        return flows

    def peaks(self, said: Any, least: float, most: float) -> tuple[float, ...]:
        """Peaks of floods in a CSV file with the header flow_m3_s, and year or date before it, from least to most."""
        of, name, rows = self._flows(said)
        faults = (_twice(rows, name, of) if of == DAYS else []) + [
            row_fault(name, row, f"a flow [m3/s] from {least:g} to {most:g}", f"{numbers[-1]:g}", "Correct the flow.")
            for row, numbers in rows
            if not least <= numbers[-1] <= most
        ]
        if faults:
            raise refusals(first_faults(faults, name))
        return tuple(numbers[-1] for _, numbers in rows)

    def _flows(self, said: Any) -> tuple[tuple[str, ...], str, list[tuple[int, list[float]]]]:
        """The header that the table has, with years, days or flows alone, what messages call it, and its rows."""
        header = next((each for each in (DATED, DAYS) if self._has(said, each)), DATED[1:])
        return header, *self._numbers(said, header)

    def lines(self, said: Any) -> Lines:
        """The cells of every line of a table that is not blank, with the line's number; the header is the first."""
        source = source_of(said)
        return lines_of(self._inside(source.file), source)

    def header(self, said: Any) -> tuple[str, ...]:
        """The first line of a table."""
        lines = self.lines(said)
        return tuple(cell.strip() for cell in lines[0][1]) if lines else ()

    def _has(self, said: Any, header: tuple[str, ...]) -> bool:
        """Whether a table has these columns, each once."""
        written, source = list(self.header(said)), source_of(said)
        return picked(written, _twins(header, written, source)[0], source.heads(header))[0] is not None

    def _numbers(self, said: Any, header: tuple[str, ...]) -> tuple[str, list[tuple[int, list[float]]]]:
        """What messages call a table, and its rows as (line of the file, numbers in these columns); read once."""
        source = source_of(said)
        name, key = source.label, f"{said} {header}"
        path = self._inside(source.file)
        if key not in self._rows:
            lines = lines_of(path, source)
            written = lines[0][1] if lines else []
            heads, factors = _twins(header, written, source)
            places, others = picked(written, heads, source.heads(header))
            if places is None:
                got = f'"{shortened(",".join(cell.strip() for cell in written))}"' if lines else "an empty file"
                remedy = f"Make {','.join(header)} the first line of the file"
                remedy += _named_heads(header, written) if source.file and len(written) > 1 else "."
                raise refusal(f"the header {','.join(header)}", got, remedy, f"{name} row 1")
            if others:
                self.ignored[name] = tuple(others)
            rows = _read_rows(lines[1:], name, heads, places, len(written))
            self._rows[key] = [(row, [a * b for a, b in zip(each, factors, strict=True)]) for row, each in rows]
        return name, self._rows[key]

    def text(self, name: Any) -> str:
        """A TOML file as text."""
        path = self._inside(name, "TOML", "requirements.toml")
        try:
            return path.read_text(encoding="utf-8-sig")
        except UnicodeDecodeError:
            raise refusal("a TOML file in UTF-8", "bytes that are not", "Save the file as UTF-8.", name) from None
        except OSError as error:
            got = f"a file that cannot be read ({error.strerror})"
            raise refusal("a TOML file", got, "Check the file and its permissions.", name) from None

    def _inside(self, name: Any, kind: str = "CSV", example: str = "tailwater.csv") -> Path:
        expected = f"the name of a {kind} file in the study's own folder"
        if not isinstance(name, str) or not name.strip():
            raise refusal(expected, shown(name), f'Write a file name, like "{example}".')
        try:
            path = (self.path / name).resolve()
            inside = path.is_relative_to(self.path) and not Path(name).is_absolute()
            found = inside and path.is_file()
        except (OSError, ValueError, RuntimeError):
            raise refusal(expected, shown(name), "Correct the file name.") from None
        if not inside:
            raise refusal(expected, f"{shown(name)}, which leads out of it", "Copy the file into the study's folder.")
        if not found:
            raise refusal(expected, f"{shown(name)}, which is not there", "Correct the name or add the file.")
        with suppress(OSError), path.open("rb") as file:  # whoever reads it says so
            self.sha256[name] = hashlib.file_digest(file, "sha256").hexdigest()
        return path


def _named_heads(header: tuple[str, ...], written: Sequence[str]) -> str:
    """How a study says under which heads of a file the wanted columns stand."""
    said = ", ".join(f'{ours} = "{shortened(head.strip())}"' for ours, head in zip(header, written, strict=False))
    return f", or name the heads that it has, such as columns = {{ {said} }}."


def _twins(header: tuple[str, ...], written: list[str], source: Source) -> tuple[tuple[str, ...], tuple[float, ...]]:
    """The wanted heads as the file or the study has them, in SI or US units, and the factors to SI."""
    return twin_heads(header, {*map(plain_head, written), *source.columns})


LEAST_TWICE = 4
"""So many annual maxima in a row do not come again by chance, to all their digits."""


def _read_rows(
    lines: Lines, name: str, header: tuple[str, ...], places: list[int], wide: int
) -> list[tuple[int, list[float]]]:
    """Numbers in the columns at these places, of rows that have as many cells as the header."""
    rows: list[tuple[int, list[float]]] = []
    faults: list[LocatedRefusal] = []
    for row, every in lines:
        if len(every) != wide:
            expected = f"{_cells(wide)}, {','.join(header)}" if wide == len(header) else _cells(wide)
            remedy = "Correct the row" + ("; a decimal mark is a point." if len(every) > wide else ".")
            faults.append(row_fault(name, row, expected, _cells(len(every)), remedy))
            continue
        cells = [every[place] for place in places]
        numbers = [
            _day(cell) if head == DAYS[0] else plain_number(cell) for head, cell in zip(header, cells, strict=True)
        ]
        if any(number is None for number in numbers):
            bad = next(cell for cell, number in zip(cells, numbers, strict=True) if number is None)
            got = f'"{shortened(bad)}"' if bad.strip() else "an empty cell"
            remedy = "Correct the cell" + ("; a decimal mark is a point." if "," in bad or "_" in bad else ".")
            dates = ", and a date as 2003-11-14" if DAYS[0] in header else ""
            faults.append(row_fault(name, row, f"a number in every cell{dates}", got, remedy))
        else:
            rows.append((row, [number for number in numbers if number is not None]))
    if faults:
        raise refusals(first_faults(faults, name))
    return rows


def _cells(count: int) -> str:
    return f"{count} cell{'s' if count > 1 else ''}"


def plain_number(text: str) -> float | None:
    """The number that a cell holds, or None."""
    return as_float(float(text)) if PLAIN.fullmatch(text.strip()) else None


def _day(text: str) -> float | None:
    """The day of a date as ISO 8601 has it, a time of the day left off; None where the cell holds none."""
    try:
        return float(datetime.fromisoformat(text.strip()).toordinal())
    except ValueError:
        return None


def row_fault(name: str, row: int, expected: str, got: str, remedy: str) -> LocatedRefusal:
    """A fault in a row of a file that the study names."""
    return (), refusal(expected, got, remedy, f"{name} row {row}")


def first_faults(faults: list[LocatedRefusal], name: str) -> list[LocatedRefusal]:
    """Not more faults of one file than help."""
    if len(faults) <= MOST_ROWS:
        return faults
    rest = len(faults) - MOST_ROWS
    more = refusal("the same of the other rows", f"{rest} more faulty rows", "Correct the file.", name)
    return [*faults[:MOST_ROWS], ((), more)]


def folder_of(info: ValidationInfo) -> Folder:
    """The folder that the loader gave to the schema."""
    folder = (info.context or {})["folder"]
    assert isinstance(folder, Folder)
    return folder


def _twice(rows: list[tuple[int, list[float]]], name: str, header: tuple[str, ...]) -> list[LocatedRefusal]:
    """Rows whose year is no whole number, or whose year or day has been there before; none where neither is told."""
    seen: set[float] = set()
    faults = []
    for row, (when, *_) in rows if header in (DATED, DAYS) else ():
        of_years = header == DATED
        if when != round(when) or when in seen:
            got = f"{when:g}" if of_years else date.fromordinal(int(when)).isoformat()
            expected = "each year once, a whole number" if of_years else "each day once"
            faults.append(row_fault(name, row, expected, got, f"Correct the {header[0]}."))
        seen.add(when)
    return faults


def _too_many_in_a_year(rows: list[tuple[int, list[float]]], name: str) -> list[LocatedRefusal]:
    """Rows of days in a calendar year that has its annual maxima already."""
    counted: Counter[int] = Counter()
    faults = []
    for row, (day, _) in rows:
        year = date.fromordinal(int(day)).year
        counted[year] += 1
        if counted[year] > MOST_IN_A_YEAR:
            expected = f"at most {MOST_IN_A_YEAR} annual maxima in a calendar year"
            faults.append(
                row_fault(name, row, expected, f"one more in {year}", "Keep the largest flow of each year only.")
            )
    return faults
