"""What the visits to one asset tell of its blockage: looks for the fit, what is left out and why, and warnings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from overbank.study.records.forms import Row
from overbank.study.records.warnings import Band, Seen, is_cleared, warnings
from overbank.uncertain.records import Looks

ROUTINE = ("scheduled", "pre_storm", "camera", "in_flood", "post_flood")
"""Reasons of visits that are taken unless the study says otherwise: not those made because somebody saw trouble."""

READING_ERROR = {"eye": 10.0, "photo": 7.5, "measured": 2.5}
"""How far a share that was read off may be out, in per cent of the opening; own judgement."""


@dataclass(frozen=True)
class Record:
    """What the visits to one asset tell.

    looks : for the fit; words : what they are, for the basis; warnings : what a reader must know
    """

    looks: Looks
    words: str
    warnings: tuple[str, ...]


def record_of(
    asset: Row, visits: list[Row], incidents: list[Row], reasons: tuple[str, ...], bands: Mapping[str, Band]
) -> Record:
    """What the visits and incidents of one asset tell; the rows are its own and sound."""
    ordered = sorted(visits, key=lambda row: row.cells["time_start"])
    seen = list(_seen(asset, ordered, reasons, bands))
    shared = Counter(each.cycle for each in seen)
    looks = Looks(
        low=tuple(each.low for each in seen),
        high=tuple(each.high for each in seen),
        zero=tuple(each.zero for each in seen),
        one=tuple(each.one for each in seen),
        weight=tuple(1.0 / shared[each.cycle] for each in seen),
    )
    words = _words(ordered, seen, looks, reasons, incidents)
    return Record(looks, words, tuple(warnings(asset, ordered, seen, looks, bands)))


def _seen(asset: Row, visits: list[Row], reasons: tuple[str, ...], bands: Mapping[str, Band]) -> Iterator[Seen]:
    cleared: datetime | None = None
    known, cycle = any(map(is_cleared, visits)), 0
    for row in visits:
        interval = _interval(row, asset, bands) if row.cells["reason"] in reasons else None
        if interval is not None:
            age = None if cleared is None else (row.cells["time_start"] - cleared) / timedelta(days=1.0)
            yield Seen(*interval, cycle, age)
        if is_cleared(row):
            cleared = row.cells.get("time_end", row.cells["time_start"])
        if is_cleared(row) or not known:
            cycle += 1


Interval = tuple[float, float, bool, bool]
"""Ends of the blocked share, and whether it may be 0, and 1."""


def _interval(row: Row, asset: Row, bands: Mapping[str, Band]) -> Interval | None:
    """The blocked share before the visit; None where nobody saw it or told it."""
    cells = row.cells
    if cells["observed"] != "yes" or cells.get("method") == "model":
        return None
    if "blocked_before_pct" in cells:
        return _read_off(cells["blocked_before_pct"], row, asset)
    band = (cells["blocked_low_pct"], cells["blocked_high_pct"]) if "blocked_low_pct" in cells else None
    band = band or bands.get(cells.get("class", ""))
    if band is None:
        return None
    low, high = (_of_clear_opening(end, row, asset) for end in band)
    return low, high, low <= 0.0, high >= 1.0


def _read_off(read: float, row: Row, asset: Row) -> Interval:
    """A figure that was read off: surely 0 or 1, or surely neither, and out by no more than the reading error."""
    share = _of_clear_opening(read, row, asset)
    if share in (0.0, 1.0):
        return share, share, share == 0.0, share == 1.0
    error = READING_ERROR[row.cells.get("method", "eye")]
    low, high = (_of_clear_opening(end, row, asset) for end in (max(read - error, 0.0), min(read + error, 100.0)))
    return low, high, False, False


def _of_clear_opening(per_cent: float, row: Row, asset: Row) -> float:
    """A per cent as share of the clean bars' clear opening: 1 - (1 - g)/f with f its share of the gross area."""
    share = per_cent / 100.0
    if row.cells.get("blocked_basis", "clear_opening") == "clear_opening":
        return share
    gap, bar = float(asset.cells["bar_gap_mm"]), float(asset.cells["bar_width_mm"])
    return max(0.0, 1.0 - (1.0 - share) * (gap + bar) / gap)


def _words(visits: list[Row], seen: list[Seen], looks: Looks, reasons: tuple[str, ...], incidents: list[Row]) -> str:
    if not visits:
        return "local record: no visit"
    first, last = (each.cells["time_start"] for each in (visits[0], visits[-1]))
    unseen = sum(row.cells["observed"] != "yes" for row in visits)
    others = Counter(row.cells["reason"] for row in visits if row.cells["reason"] not in reasons)
    said = [
        f"local record: {len(seen)} usable of {len(visits)} visits from {first:%Y-%m-%d} to {last:%Y-%m-%d}, "
        f"worth {looks.worth:g} independent looks"
    ]
    if unseen:
        said.append(f"{unseen} saw nothing, which is not taken as clear")
    if others:
        said.append(f"left out by their reason: {', '.join(f'{count} {reason}' for reason, count in others.items())}")
    if incidents:
        blocked = sum(row.cells.get("mechanism") == "blockage" for row in incidents)
        counted = f"incidents {len(incidents)}, {blocked} of them by blockage"
        said.append(f"{counted}: found because they are bad, so not fitted")
    return "; ".join(said)
