"""What a reader must know of inspection records that are sound row by row: how they came about, what they miss."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import timedelta
from itertools import pairwise
from typing import NamedTuple

from overbank.study.records.forms import CLASSES, Row
from overbank.uncertain.records import LEAST_LOOKS, Looks

WIDE_GAP, STALE_YEARS, LATE = 3.0, 10.0, 1.5
"""Gaps of so many inspection intervals, a survey so old, looks so much later than a random moment are told."""

Band = tuple[float, float]


class Seen(NamedTuple):
    """One visit that tells a blocked share.

    low, high : its interval; zero, one : whether it may be 0, and 1
    cycle : how many full clearings came before; age_days : since the last of them, None before the first
    """

    low: float
    high: float
    zero: bool
    one: bool
    cycle: int
    age_days: float | None


def is_cleared(row: Row) -> bool:
    """Whether the bars were raked clean: only that sets the clock back to nought."""
    return row.cells.get("cleared") == "full" or row.cells.get("blocked_after_pct") == 0.0


def warnings(asset: Row, visits: list[Row], seen: list[Seen], looks: Looks, bands: Mapping[str, Band]) -> Iterator[str]:
    """One sentence a warning; the visits are those of the asset, in the order of their times."""
    if looks.worth < LEAST_LOOKS:
        yield f"fewer than {LEAST_LOOKS:g} independent looks: much of the distribution is still the prior"
    if visits and all(row.cells["reason"] == "scheduled" for row in visits):
        yield "all visits were scheduled: none tells what a storm brings"
    untold = sum(row.cells.get("class") in CLASSES and row.cells["class"] not in bands for row in visits)
    if untold:
        yield f"visits that give a class for which the study declares no band: {untold}"
    if visits and not any(map(is_cleared, visits)):
        yield "no full clearing is recorded: visits in a row may show the same debris"
    small = sum(0.0 < row.cells.get("blocked_before_pct", 0.0) < 1.0 for row in visits)
    if small:
        yield f"visits that give less than 1 % blocked: {small}; are these shares, where per cent were asked for"
    upside = sum(row.cells.get("level_down_m", -1e9) > row.cells.get("level_up_m", 1e9) for row in visits)
    if upside:
        yield f"visits that give a level behind the screen above the one before it: {upside}"
    yield from _of_time(asset, visits, seen)


def _of_time(asset: Row, visits: list[Row], seen: list[Seen]) -> Iterator[str]:
    """Gaps in the record, a survey long past, and looks that come late between two clearings."""
    interval = asset.cells.get("inspection_interval_days")
    starts = [row.cells["time_start"] for row in visits]
    days = [(later - earlier) / timedelta(days=1.0) for earlier, later in pairwise(starts)]
    if interval is not None:
        wide = sum(gap > WIDE_GAP * interval for gap in days)
        if wide:
            yield f"gaps between visits of more than {WIDE_GAP:g} inspection intervals of {interval:g} days: {wide}"
    surveyed = asset.cells.get("survey_date")
    if surveyed is not None and visits:
        years = (visits[-1].cells["time_start"].date() - surveyed).days / 365.25
        if years > STALE_YEARS:
            yield f"the asset was surveyed {years:.0f} years before the last visit"
    at_looks, at_random = _ages(visits, seen)
    if at_random > 0.0 and at_looks > LATE * at_random:
        yield (
            f"the looks came {at_looks:.3g} days after a full clearing on average, a random moment {at_random:.3g} "
            "days: they show more debris than a flood would find"
        )


def _ages(visits: list[Row], seen: list[Seen]) -> tuple[float, float]:
    """Mean days since the last full clearing: of the looks, and of a random moment between two clearings."""
    ages = [each.age_days for each in seen if each.age_days is not None]
    clearings = [row.cells["time_start"] for row in visits if is_cleared(row)]
    lengths = [(later - earlier) / timedelta(days=1.0) for earlier, later in pairwise(clearings)]
    if not ages or not sum(lengths):
        return 0.0, 0.0
    return sum(ages) / len(ages), sum(length**2 for length in lengths) / (2.0 * sum(lengths))
