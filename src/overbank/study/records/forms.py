"""The forms of inspection records: the columns of assets, visits and incidents, and how a cell of each is read.

One header row, levels on one named datum, units in the names of the columns; a time without an offset is in UTC. An
empty cell was not recorded; it is never nought. Columns may come in any order; those that are not needed may be
missing, and those that nothing uses are left.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from difflib import get_close_matches
from typing import Any, NamedTuple

from overbank.study.reading.folder import Folder, first_faults, plain_number, row_fault
from overbank.study.reading.refusals import LocatedRefusal, choose, list_of, refusals, shortened
from overbank.study.reading.sheets import plain_head, source_of
from overbank.study.reading.suggestions import suggestion


@dataclass(frozen=True)
class Column:
    """How the cells of a column are read: None where a cell cannot be read; `needed` ones are never empty."""

    read: Callable[[str], Any]
    expected: str
    needed: bool = False
    words: tuple[str, ...] = ()


class Row(NamedTuple):
    """A row of a form: its line in the file, and the cells that are not empty."""

    line: int
    cells: dict[str, Any]


def _number(low: float, high: float, what: str) -> Column:
    def read(text: str) -> float | None:
        value = plain_number(text)
        return value if value is not None and low <= value <= high else None

    return Column(read, f"{what} from {low:g} to {high:g}")


def _words(*words: str, needed: bool = False) -> Column:
    return Column(lambda text: text if text in words else None, list_of(words), needed, words)


def _time(text: str) -> datetime | None:
    """A time or a day; one that does not say its offset from UTC is taken as UTC."""
    try:
        read = datetime.fromisoformat(text)
    except ValueError:
        return None
    read = read if read.tzinfo is not None else read.replace(tzinfo=UTC)
    return read if read <= datetime.now(UTC) else None


def _date(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _needed(column: Column) -> Column:
    return Column(column.read, column.expected, True, column.words)


TEXT = Column(lambda text: text, "a text")
TIME = Column(_time, "a time that is past, like 2024-11-03T08:20+00:00, or 2024-11-03 08:20, taken as UTC")
DATE = Column(_date, "a date like 2024-11-03")
PER_CENT = _number(0.0, 100.0, "a per cent")
LEVEL = _number(-500.0, 9000.0, "a level [m]")
LENGTH = _number(0.0, 100.0, "a length [m]")
WIDTH_MM = _number(1.0, 2000.0, "a width [mm]")
DAYS = _number(0.1, 3660.0, "a number of days")
YES = _words("yes", "no")

KINDS = ("screen", "culvert", "bridge", "weir")
REASONS = ("scheduled", "pre_storm", "alert", "in_flood", "post_flood", "complaint", "camera", "other", "unknown")
CLASSES = ("clear", "part", "blocked")
LEVELS = ("sill_level_m", "top_level_m", "soffit_level_m", "bank_level_m", "bypass_level_m", "access_level_m")
DEBRIS = ("leaves", "branch", "trunk", "litter", "bulky", "silt", "ice", "vegetation", "mixed")

ASSETS: Mapping[str, Column] = {
    **{"asset_id": _needed(TEXT), "kind": _words(*KINDS, needed=True), "position": _words("inlet", "outlet")},
    **{"easting": TEXT, "northing": TEXT, "bar_gap_mm": WIDTH_MM, "bar_width_mm": WIDTH_MM, "width_m": LENGTH},
    **{"height_m": LENGTH, "angle_deg": _number(10.0, 90.0, "an angle [deg]"), **dict.fromkeys(LEVELS, LEVEL)},
    **{"criticality": TEXT, "inspection_interval_days": DAYS, "survey_date": DATE, "datum": TEXT, "source": TEXT},
    "downstream_asset_id": TEXT,
}
VISITS: Mapping[str, Column] = {
    **{"asset_id": _needed(TEXT), "time_start": _needed(TIME), "time_end": TIME},
    **{"reason": _words(*REASONS, needed=True)},
    "observed": _words("yes", "no_access", "submerged", "dark", "unknown", needed=True),
    **{"blocked_before_pct": PER_CENT, "blocked_low_pct": PER_CENT, "blocked_high_pct": PER_CENT},
    **{"class": _words(*CLASSES, "unknown"), "blocked_basis": _words("clear_opening", "gross_wetted", "gross_total")},
    **{"method": _words("eye", "photo", "measured", "model"), "blocked_after_pct": PER_CENT},
    **{"cleared": _words("full", "part", "none"), "debris": _words(*DEBRIS)},
    "pattern": _words("uniform", "bottom", "raft", "side", "barrel_silt", "unknown"),
    **{"longest_piece_m": LENGTH, "volume_removed_m3": _number(0.0, 10_000.0, "a volume [m3]"), "silt_depth_m": LENGTH},
    **{"level_up_m": LEVEL, "level_down_m": LEVEL, "flow_m3_s": _number(0.0, 10_000.0, "a flow [m3/s]")},
    **{"rain_24h_mm": _number(0.0, 2000.0, "a rain [mm]"), "crew_code": TEXT, "crew_size": _number(0, 100, "a number")},
    **{"duration_min": _number(0.0, 10_000.0, "minutes"), "stopped_for_safety": YES, "defect": TEXT},
    **{"repair_needed": YES, "next_due": DATE, "photo_ref": TEXT, "note": TEXT},
}
INCIDENTS: Mapping[str, Column] = {
    **{"incident_id": _needed(TEXT), "asset_id": TEXT, "time_first_report": _needed(TIME)},
    **{"time_peak": TIME, "time_end": TIME, "source": _words("river", "surface", "sewer", "unknown")},
    "mechanism": _words("capacity", "blockage", "tailwater", "defect", "unknown"),
    **{"blocked_at_peak_low_pct": PER_CENT, "blocked_at_peak_high_pct": PER_CENT},
    **{"peak_level_up_m": LEVEL, "peak_level_down_m": LEVEL, "level_error_m": LENGTH},
    "level_evidence": _words("gauge", "wrack", "photo", "witness"),
    **{"overtopped": _words("yes", "no", "near_miss", "unknown", needed=True), "overtop_depth_m": LENGTH},
    **{"receptors_affected": TEXT, "injuries": _number(0, 100_000, "a number"), "last_visit_id": TEXT},
    **{"flow_estimate_m3_s": _number(0.0, 10_000.0, "a flow [m3/s]"), "flow_aep": _number(0.0, 1.0, "a probability")},
    **{"confidence": TEXT, "reference": TEXT},
}


ALIASES = {"blocked_pct": "blocked_before_pct", "blocked": "blocked_before_pct", "date": "time_start"}
"""Heads that others write for ours."""

MISSPELT = 0.85
"""An unknown head so alike one of ours, which is not there, is a slip of the hand."""


def read_form(
    folder: Folder, said: Any, columns: Mapping[str, Column], in_every_row: Mapping[str, str] | None = None
) -> list[Row]:
    """The rows of a form; every cell that cannot be is refused with its row, and a column that nothing uses is left.

    in_every_row : cells of columns that the file does not have
    """
    source, lines = source_of(said), folder.lines(said)
    name = source.label
    written = [cell.strip() for cell in lines[0][1]] if lines else []
    header = _ours(written, columns, {head: ours for ours, head in source.columns.items()})
    added = {column: text for column, text in (in_every_row or {}).items() if column not in header}
    remedy = "Add the column, or say it once in every_visit." if in_every_row else "Add the column."
    _check_header(name, [*header, *(added if header else ())], columns, remedy)
    if others := tuple(head for head, ours in zip(written, header, strict=True) if head and ours not in columns):
        folder.ignored[name] = others
    rows, faults = [], []
    for line, written in lines[1:]:
        cells, wrong = _read_row(name, line, header, written, columns)
        cells |= {column: columns[column].read(text) for column, text in added.items()}
        faults += wrong
        rows.append(Row(line, cells))
    if faults:
        raise refusals(first_faults(faults, name))
    return rows


def _ours(written: list[str], columns: Mapping[str, Column], given: Mapping[str, str]) -> list[str]:
    """Every head as we name it; one that we do not know as it stands."""
    found = []
    for head in written:
        plain = plain_head(head)
        ours = ALIASES[plain] if ALIASES.get(plain) in columns else head
        found.append(given.get(head) or (head if head in columns else plain if plain in columns else ours))
    return found


def _check_header(name: str, header: list[str], columns: Mapping[str, Column], where_missing: str) -> None:
    faults: list[LocatedRefusal] = []
    for column in header:
        if not column:
            continue
        absent = [each for each in columns if each not in header]
        if column not in columns and get_close_matches(plain_head(column), absent, n=1, cutoff=MISSPELT):
            remedy = suggestion(column, columns, header, "Remove the column: nothing uses it.")
            expected = f"columns of {', '.join(columns)}"
            faults.append(row_fault(name, 1, expected, f'the unknown column "{shortened(column)}"', remedy))
        elif column in columns and header.count(column) > 1:
            faults.append(row_fault(name, 1, "every column once", f"{column} more than once", "Remove one of them."))
    for column, how in columns.items():
        if how.needed and column not in header:
            got = "none" if header else "an empty file"
            faults.append(row_fault(name, 1, f"a column {column}", got, where_missing))
    if faults:
        raise refusals(first_faults(faults, name))


def _read_row(
    name: str, line: int, header: list[str], written: list[str], columns: Mapping[str, Column]
) -> tuple[dict[str, Any], list[LocatedRefusal]]:
    if len(written) != len(header):
        got = f"{len(written)} cells"
        return {}, [row_fault(name, line, f"{len(header)} cells, as in the header", got, "Correct the row.")]
    cells: dict[str, Any] = {}
    faults: list[LocatedRefusal] = []
    for column, text in zip(header, (cell.strip() for cell in written), strict=True):
        if column not in columns:
            continue
        how = columns[column]
        value = how.read(text) if text else None
        if value is not None:
            cells[column] = value
        elif text:
            got = f'"{shortened(text)}" in {column}'
            faults.append(row_fault(name, line, how.expected, got, _remedy(how, text)))
        elif how.needed:
            faults.append(row_fault(name, line, f"{how.expected} in {column}", "an empty cell", "Fill it in."))
    return cells, faults


def _remedy(how: Column, text: str) -> str:
    return choose(text, how.words) if how.words else "Correct the cell, or leave it empty where it was not recorded."
