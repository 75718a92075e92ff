"""Geometry of weirs, bridges and arches that cannot be."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from overbank.study.extents import Element, Extent, out_of_order, remedy
from overbank.study.reading.folder import SurveyPoints
from overbank.study.reading.refusals import LocatedRefusal, refusal
from overbank.study.surveyed import has_survey

SPAN, RISE = ("span_m", "diameter_m"), ("rise_m", "diameter_m")
GROUPS = ("opening", "side_opening")


def impossible_arch(reader: Element, *table: str) -> Iterator[LocatedRefusal]:
    """An arch whose walls are higher than it, or whose crown bulges beyond its walls."""
    wall = reader.get("wall height", *table, "wall_height_m")
    yield from reader.order((*table, "rise_m"), "rise", wall, "a rise above the height of the walls")
    rise, span = reader.get("rise", *table, "rise_m"), reader.get("span", *table, "span_m")
    if not (wall and rise and span):
        return
    half = Extent("half the span", span.median / 2, span.low / 2, span.high / 2, span.closed)
    limit = half.plus("wall height and half the span", wall)
    if rise.median > wall.median and (wrong := out_of_order(limit, rise, equal=True)):
        expected = "a crown that is no more than a semicircle: rise not above wall height + span / 2"
        yield (*reader.path, *table, "rise_m"), refusal(expected, wrong, remedy(wrong))


def impossible_weir(reader: Element, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
    """A crest under the bed, over the bank, or wider than the channel without an angle."""
    bed, crest = approach_bed(reader, raw), reader.get("crest", "crest", "level_m")
    yield from reader.order(("crest", "level_m"), "crest", bed, "a crest above the bed of the approach")
    yield from reader.order(("bank_level_m",), "bank", crest, "a bank above the crest")
    angle = reader.get("angle", "crest", "angle_deg")
    if angle is not None and angle.high > 0.0:
        return
    width, channel = (reader.get("crest", "crest", "width_m"), _channel_width(reader, raw, crest, bed))
    if width and channel and (wrong := out_of_order(channel, width, equal=True)):
        expected = "a crest that is not wider than the channel, unless it lies at an angle"
        yield (*reader.path, "crest", "width_m"), refusal(expected, wrong, remedy(wrong))


def survey_of(reader: Element, raw: dict[str, Any]) -> SurveyPoints | None:
    """The points of a table's surveyed section; None where it has none, or one that the schema finds fault with."""
    if not has_survey(raw):
        return None
    try:
        return reader.study.folder.survey(raw["section"].get("points"))
    except ValueError:
        return None


def lowest_point(reader: Element, raw: dict[str, Any], *table: str) -> Extent | None:
    """The lowest point of the surveyed section of a table, its shift included."""
    points = survey_of(reader, raw)
    if points is None:
        return None
    lowest = Extent.certain("bed", min(points.levels))
    shift = reader.get("shift", *table, "section", "shift_m")
    return lowest.plus("bed", shift) if shift else lowest


def _approach(raw: dict[str, Any]) -> dict[str, Any]:
    written = raw.get("approach")
    return written if isinstance(written, dict) else {}


def approach_bed(reader: Element, raw: dict[str, Any]) -> Extent | None:
    """Bed of the approach of a weir or bridge."""
    given = reader.get("bed", "approach", "bed_level_m")
    return given or lowest_point(reader, _approach(raw), "approach")


def _channel_width(reader: Element, raw: dict[str, Any], level: Extent | None, bed: Extent | None) -> Extent | None:
    """Width of the approach at a level; of a surveyed one, from end to end."""
    points = survey_of(reader, _approach(raw))
    if points is not None:
        return Extent.certain("survey", points.offsets[-1] - points.offsets[0])
    width = reader.get("channel", "approach", "section", "width_m")
    if width is not None:
        return width
    foot = reader.get("channel", "approach", "section", "bed_width_m")
    side = reader.get("side slope", "approach", "section", "side_slope")
    if not (foot and side and level and bed):
        return None
    height = level.minus("height", bed)
    return foot.plus("channel", side.times(height)).plus("channel", side.times(height))


def impossible_bridge(reader: Element, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
    """Levels out of order, arches that cannot be, openings too wide for the channel or shut by skewed piers."""
    bed = approach_bed(reader, raw)
    yield from reader.order(("bank_level_m",), "bank", bed, "a bank above the bed of the approach")
    road = "an approach road above the bed of the approach"
    yield from reader.order(("approach_road", "level_m"), "approach road", bed, road)
    for table in GROUPS:
        yield from impossible_arch(reader, table)
        yield from _soffit_out_of_place(reader, table, bed)
    written = raw.get("skew")
    skew: dict[str, Any] = written if isinstance(written, dict) else {}
    yield from _too_wide(reader, raw, skew, bed)
    if skew.get("piers") == "square to the road":
        yield from _shut_by_piers(reader, skew)


def _soffit(reader: Element, table: str) -> Extent | None:
    foot, rise = reader.get("bed", table, "bed_level_m"), reader.any_of("rise", table, *RISE)
    return foot.plus("soffit", rise[1]) if foot and rise else None


def _soffit_out_of_place(reader: Element, table: str, bed: Extent | None) -> Iterator[LocatedRefusal]:
    soffit, deck = _soffit(reader, table), reader.get("deck", "deck", "level_m")
    if soffit and bed and (wrong := out_of_order(soffit, bed)):
        fault = refusal("a soffit above the bed of the approach", wrong, remedy(wrong))
        yield (*reader.path, table, "bed_level_m"), fault
    if soffit and deck and (wrong := out_of_order(deck, soffit, equal=True)):
        yield (*reader.path, "deck", "level_m"), refusal("a deck not below the soffit", wrong, remedy(wrong))


def _projected(reader: Element, table: str, skew: dict[str, Any]) -> tuple[str, Extent] | None:
    """The key that gives the span, and the span square to the flow."""
    found = reader.any_of("span", table, *SPAN)
    angle = reader.get("angle", "skew", "angle_deg")
    if found is None or angle is None or skew.get("spans") != "along the road":
        return found
    low, median, high = (math.cos(math.radians(each)) for each in (angle.high, angle.median, angle.low))
    return found[0], found[1].times(Extent("", median, low, high, angle.closed))


def _too_wide(
    reader: Element, raw: dict[str, Any], skew: dict[str, Any], bed: Extent | None
) -> Iterator[LocatedRefusal]:
    """Openings wider together than the channel at the soffit of the main ones."""
    main = _projected(reader, "opening", skew)
    channel = _channel_width(reader, raw, _soffit(reader, "opening"), bed)
    if main is None or channel is None:
        return
    total = Extent.certain("openings", 0.0)
    for table in GROUPS:
        found = _projected(reader, table, skew)
        if found is not None:
            total = total.plus("openings", found[1].times(_count(reader, table) or ONE))
    if wrong := out_of_order(channel, total, equal=True):
        expected = "openings that are not wider together, square to the flow, than the channel at their soffit"
        yield (*reader.path, "opening", main[0]), refusal(expected, wrong, remedy(wrong))


ONE = Extent.certain("count", 1.0)


def _count(reader: Element, table: str) -> Extent | None:
    """Number of openings of a group; None where there is no such group."""
    return reader.get("count", table, "count") or (ONE if reader.any_of("span", table, *SPAN) else None)


def _shut_by_piers(reader: Element, skew: dict[str, Any]) -> Iterator[LocatedRefusal]:
    """Spans of which skewed piers leave nothing clear."""
    angle, length = reader.get("angle", "skew", "angle_deg"), reader.get("pier", "skew", "pier_length_m")
    if not (angle and length):
        return
    spans = sum(count.median for table in GROUPS if (count := _count(reader, table)))
    share = 1.0 - 1.0 / max(spans, 1.0)
    low, median, high = (share * math.sin(math.radians(each)) for each in (angle.low, angle.median, angle.high))
    across = length.times(Extent("", median, low, high, angle.closed))
    across = across.plus("its share of the piers", Extent.certain("", 0.0))
    for table in GROUPS:
        found = _projected(reader, table, skew)
        wrong = out_of_order(found[1], across) if found else ""
        if wrong:
            expected = "piers that leave a part of each span clear"
            yield (*reader.path, "skew", "pier_length_m"), refusal(expected, wrong, remedy(wrong))
            return
