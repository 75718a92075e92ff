"""What tables of elements share: surveyed sections, the approach of a weir or bridge, arches that cannot be."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator
from typing import Any

from overbank.hydraulics.surveyed_table import survey_table
from overbank.site import surveyed as site
from overbank.study import surveyed
from overbank.study.collect import Collected, Follower
from overbank.study.elements.element import Element
from overbank.study.elements.extents import Extent, Reader, out_of_order, remedy
from overbank.study.reading.folder import SurveyPoints
from overbank.study.reading.numbers import Number
from overbank.study.reading.refusals import LocatedRefusal, refusal
from overbank.study.surveyed import SurveyedApproach, has_survey, read_limits, within

SPAN, RISE = ("span_m", "diameter_m"), ("rise_m", "diameter_m")


def impossible_arch(reader: Reader, *table: str | int) -> Iterator[LocatedRefusal]:
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


def survey_of(reader: Reader, raw: dict[str, Any]) -> SurveyPoints | None:
    """The points of a table's surveyed section; None where it has none, or one that the schema finds fault with."""
    if not has_survey(raw):
        return None
    try:
        points = reader.study.folder.survey(raw["section"].get("points"))
        limits = raw["section"].get("flows_within_m")
        return within(points, None if limits is None else read_limits(limits))
    except ValueError:
        return None


def lowest_point(reader: Reader, raw: dict[str, Any], *table: str) -> Extent | None:
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


def approach_bed(reader: Reader, raw: dict[str, Any]) -> Extent | None:
    """Bed of the approach of a weir or bridge."""
    given = reader.get("bed", "approach", "bed_level_m")
    return given or lowest_point(reader, _approach(raw), "approach")


def channel_width(reader: Reader, raw: dict[str, Any], level: Extent | None, bed: Extent | None) -> Extent | None:
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


def survey_section(section: surveyed.Surveyed) -> site.SurveyedSection:
    """A surveyed section with its table."""
    points = section.ground
    table = survey_table(points.offsets, points.levels, section.divisions)
    height = min(points.levels[0], points.levels[-1]) - min(points.levels)
    corners = tuple(zip(points.offsets, points.levels, strict=True))
    return site.SurveyedSection(table, height, corners, section.divisions)


def fill_survey(collected: Collected, section: surveyed.Surveyed, path: str) -> None:
    """The bed of a surveyed section, its lowest point."""
    inside, points = f"{path}.section", section.ground
    lowest = Number(min(points.levels), basis=f"the lowest point of {points.name}")
    collected.add(f"{inside}.lowest_point_m", lowest)
    collected.follow(Follower(f"{path}.bed_level_m", f"{inside}.lowest_point_m", (f"{inside}.shift_m",)))


class WithApproach(Element):
    """An element across the channel, of which the bed is that of the channel just upstream."""

    def fill(self, collected: Collected, below: Element | None) -> None:  # noqa: ARG002
        """The bed of a surveyed approach."""
        approach = self.channel
        if isinstance(approach, SurveyedApproach):
            fill_survey(collected, approach.section, f"{self.id}.approach")

    @property
    @abstractmethod
    def channel(self) -> surveyed.Approach | SurveyedApproach:
        """The channel just upstream."""

    @property
    def survey(self) -> site.SurveyedSection | None:
        """The surveyed section of the approach, if it is one."""
        approach = self.channel
        return survey_section(approach.section) if isinstance(approach, SurveyedApproach) else None

    def bed_above(self) -> tuple[str, tuple[str, ...]]:
        return f"{self.id}.approach.bed_level_m", ()

    def bed_below(self) -> str:
        return f"{self.id}.approach.bed_level_m"

    @classmethod
    def top(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Extent | None:  # noqa: ARG003
        return approach_bed(reader, raw)
