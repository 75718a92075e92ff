"""What inspection records refuse beyond single cells: rows at odds with themselves, each other, or the assets."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from overbank.study.reading.folder import row_fault
from overbank.study.reading.refusals import LocatedRefusal, list_of, nearest, number, shown
from overbank.study.records.forms import LEVELS, Row

SHARES = ("blocked_before_pct", "blocked_low_pct", "blocked_high_pct")
"""Cells that say what was blocked before anything was cleared."""


def faults_of_assets(name: str, rows: list[Row]) -> Iterator[LocatedRefusal]:
    """Assets that stand twice, and levels without a datum or on several."""
    yield from _twice(name, rows, ("asset_id",))
    datum = next((row.cells["datum"] for row in rows if "datum" in row.cells), None)
    for row in rows:
        own = row.cells.get("datum")
        if own is None and any(level in row.cells for level in LEVELS):
            yield row_fault(name, row.line, "a datum beside levels", "none", "Name the datum of the levels.")
        elif own is not None and own != datum:
            expected = f'the one datum of the file, "{datum}"'
            yield row_fault(name, row.line, expected, shown(own), "Give all levels on one datum.")


def faults_of_visits(name: str, rows: list[Row], assets: dict[str, Row]) -> Iterator[LocatedRefusal]:
    """Visits of unknown assets, twice the same, or at odds with themselves."""
    yield from _twice(name, rows, ("asset_id", "time_start"))
    if rows and not any("blocked_basis" in row.cells for row in rows):
        yield from _of_what(name, rows)
        rows = [Row(row.line, {**row.cells, "blocked_basis": "clear_opening"}) for row in rows]  # told once
    for row in rows:
        yield from _unknown_asset(name, row, tuple(assets))
        yield from _without_bars(name, row, assets.get(row.cells.get("asset_id", "")))
        yield from _backwards(name, row, "time_start", "time_end")
        yield from _band(name, row, "blocked_low_pct", "blocked_high_pct")
        yield from _of_shares(name, row)


def faults_of_incidents(name: str, rows: list[Row], assets: tuple[str, ...]) -> Iterator[LocatedRefusal]:
    """Incidents of unknown assets, twice the same, or at odds with themselves."""
    yield from _twice(name, rows, ("incident_id",))
    for row in rows:
        yield from _unknown_asset(name, row, assets)
        yield from _backwards(name, row, "time_peak", "time_end")
        yield from _band(name, row, "blocked_at_peak_low_pct", "blocked_at_peak_high_pct")


def _without_bars(name: str, row: Row, asset: Row | None) -> Iterator[LocatedRefusal]:
    """A share of the gross area, which only the asset's bars turn into one of the clear opening."""
    basis = row.cells.get("blocked_basis", "clear_opening")
    if asset is not None and basis != "clear_opening" and not {"bar_gap_mm", "bar_width_mm"} <= asset.cells.keys():
        expected = f"bar_gap_mm and bar_width_mm of the asset beside blocked_basis = {basis}"
        yield row_fault(name, row.line, expected, "none", "Add them to the assets.")


def _twice(name: str, rows: list[Row], keys: tuple[str, ...]) -> Iterator[LocatedRefusal]:
    first: dict[tuple[Any, ...], int] = {}
    for row in rows:
        own = tuple(row.cells.get(key) for key in keys)
        if first.setdefault(own, row.line) != row.line:
            expected = f"every {' and '.join(keys)} once"
            yield row_fault(name, row.line, expected, f"the same as in row {first[own]}", "Remove one of the rows.")


def _unknown_asset(name: str, row: Row, assets: tuple[str, ...]) -> Iterator[LocatedRefusal]:
    own = row.cells.get("asset_id")
    if own is not None and own not in assets:
        near = nearest(own, assets)
        remedy = f'Write "{near}".' if near else "Add it to the assets, or correct the name."
        listed = list_of(assets) if assets else "which is empty"
        yield row_fault(name, row.line, f"an asset of the list, {listed}", shown(own), remedy)


def _backwards(name: str, row: Row, begins: str, ends: str) -> Iterator[LocatedRefusal]:
    begun, ended = row.cells.get(begins), row.cells.get(ends)
    if begun is not None and ended is not None and ended < begun:
        yield row_fault(
            name, row.line, f"{ends} not before {begins}", f"{ended:%Y-%m-%dT%H:%M%z}", "Correct the times."
        )


def _band(name: str, row: Row, low: str, high: str) -> Iterator[LocatedRefusal]:
    lower, upper = row.cells.get(low), row.cells.get(high)
    if (lower is None) != (upper is None):
        yield row_fault(
            name, row.line, f"{low} and {high} together", "one of them", "Fill in the other end of the band."
        )
    elif lower is not None and upper is not None and lower > upper:
        got = f"{number(lower)} and {number(upper)}"
        yield row_fault(name, row.line, f"{low} not above {high}", got, "Correct the band.")


def _of_what(name: str, rows: list[Row]) -> Iterator[LocatedRefusal]:
    """Per cents of which no row says what they are a share of: told once."""
    first = next((row for row in rows if {*SHARES, "blocked_after_pct"} & row.cells.keys()), None)
    if first is not None:
        expected = "a blocked_basis beside every per cent: clear_opening, gross_wetted or gross_total"
        remedy = 'Add the column, or write every_visit = { blocked_basis = "clear_opening" } beside the visits.'
        yield row_fault(name, first.line, expected, "none in any row", remedy)


def _of_shares(name: str, row: Row) -> Iterator[LocatedRefusal]:
    """Shares without a basis, seen by nobody, told in two ways, or grown while the bars were raked."""
    cells = row.cells
    given = [key for key in SHARES if key in cells]
    if "blocked_before_pct" in given and len(given) > 1:
        expected = "blocked_before_pct, or a band, not both"
        yield row_fault(name, row.line, expected, "both", "Keep one of them.")
    if (given or "blocked_after_pct" in cells) and "blocked_basis" not in cells:
        expected = "a blocked_basis beside every per cent"
        yield row_fault(name, row.line, expected, "none", "Say of what the per cent is a share.")
    if given and cells.get("observed") != "yes":
        got = f"observed = {cells.get('observed')}"
        yield row_fault(name, row.line, "a blocked share only where the screen was seen", got, "Empty the share.")
    most = cells.get("blocked_before_pct", cells.get("blocked_high_pct"))
    after = cells.get("blocked_after_pct")
    if most is not None and after is not None and after > most:
        got = f"{number(after)} after {number(most)}"
        yield row_fault(name, row.line, "no more blocked after the visit than before", got, "Correct the shares.")
