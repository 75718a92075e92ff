"""A surveyed cross-section as a study writes it: points from a CSV file, and zones of roughness."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal, Self

import numpy as np
from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from overbank.study.patterns import Method
from overbank.study.reading.folder import SurveyPoints, folder_of
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.plain import as_float, bare_number
from overbank.study.reading.refusals import LocatedRefusal, number, refusal, refusals, shown
from overbank.study.reading.table import Table, chosen_by, varied
from overbank.study.sections import OPEN_SECTIONS, Level, Rectangle, Roughness, Trapezoid


def _read_points(raw: Any, info: ValidationInfo) -> SurveyPoints:
    return folder_of(info).survey(raw)


Limits = tuple[float, float]


def read_limits(raw: Any) -> Limits:
    """The offsets of two levees."""
    numbers = [as_float(each) for each in raw] if isinstance(raw, list) else []
    left, right = numbers if len(numbers) == 2 else (None, None)
    if left is None or right is None or not left < right:
        remedy = "Write [12.0, 31.5], for example."
        raise refusal("two offsets [m], the left one first and the lesser", shown(raw), remedy)
    return left, right


def within(points: SurveyPoints, limits: Limits | None) -> SurveyPoints:
    """The points between two offsets, the ground at these two being the ends; all of them for no limits.

    Of a step at such an offset its top is the end.
    """
    if limits is None:
        return points
    left, right = limits
    offsets, levels = np.array(points.offsets), np.array(points.levels)
    for offset in (left, right):
        if offset not in offsets:
            place, level = int(np.searchsorted(offsets, offset)), np.interp(offset, offsets, levels)
            offsets, levels = np.insert(offsets, place, offset), np.insert(levels, place, level)
    first = int(np.argmax(np.where(offsets == left, levels, -np.inf)))
    last = int(np.argmax(np.where(offsets == right, levels, -np.inf)))
    kept = slice(first, last + 1)
    return SurveyPoints(points.name, tuple(offsets[kept].tolist()), tuple(levels[kept].tolist()))


class Zone(Table):
    """A zone of one roughness, reaching from the zone on its left to an offset, the last one to the end."""

    to_m: Annotated[float, bare_number()] | None = Field(None, description="the offset at which the zone ends [m]")
    manning_n: Roughness = Field(description="Manning's n of the zone")
    length_ratio: Annotated[Number, number_from(0.3, 3.0, "a ratio of lengths")] | None = Field(
        None, description="the way of the water along the zone over the length of the reach"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "length_ratio": "1: as long as the reach",
        "to_m": "the last zone reaches to the end of the section",
    }


class Surveyed(Table):
    """A surveyed section, looking either way along the channel; its zones follow the offsets. Above its two end points
    it is taken to go on as vertical walls."""

    shape: Literal["surveyed"]
    points: Annotated[SurveyPoints, PlainValidator(_read_points)] = Field(
        description="the name of a CSV file with the header offset_m,level_m"
    )
    flows_within_m: Annotated[Limits, PlainValidator(read_limits)] | None = Field(
        None, description="the offsets of two levees, [left, right]: the ground behind them carries no water [m]"
    )
    zones: list[Zone] = Field(
        min_length=1,
        description="a list of zones of roughness, in the order of the offsets, such as "
        "[{ to_m = 10.0, manning_n = 0.06 }, { manning_n = 0.04 }]",
    )
    method: Method = default(
        0.0,
        "subdivided: conveyance by zones, usual for a channel with flood plains",
        "how the roughness of the zones is combined",
    )
    shift_m: Annotated[Number, number_from(-20.0, 20.0, "a shift [m]")] = default(
        0.0,
        "the levels of the survey as they stand",
        "what is added to every level of the survey or profile: the error of its datum [m]",
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "flows_within_m": "the whole survey carries water",
    }

    @property
    def ground(self) -> SurveyPoints:
        """The points between which water flows."""
        return within(self.points, self.flows_within_m)

    @property
    def divisions(self) -> tuple[float, ...]:
        """Offsets of the lines between zones."""
        return tuple(zone.to_m for zone in self.zones if zone.to_m is not None)

    @model_validator(mode="after")
    def _zones_fill_the_section(self) -> Self:
        if self.flows_within_m is not None:
            (left, right), (first, *_, last) = self.flows_within_m, self.points.offsets
            if left < first or right > last:
                expected = f"offsets inside the survey, from {number(first)} to {number(last)}"
                got = f"{number(left)} to {number(right)}"
                raise refusals([(("flows_within_m",), refusal(expected, got, "Correct the offsets."))])
        faults = list(_misplaced(self.zones, self.ground))
        if faults:
            raise refusals(faults)
        return self


def _misplaced(zones: list[Zone], points: SurveyPoints) -> Iterator[LocatedRefusal]:
    """Ends of zones that are missing, out of order or not inside the section."""
    before, end = points.offsets[0], points.offsets[-1]
    for index, zone in enumerate(zones):
        path = ("zones", index, "to_m")
        last = index == len(zones) - 1
        if zone.to_m is None:
            if not last:
                yield path, refusal("the offset at which the zone ends [m]", "nothing", "Add to_m = ... here.")
        elif last:
            expected = "no to_m in the last zone, which reaches to the end of the section"
            remedy = "Remove it, or add the zone that comes after it."
            yield path, refusal(expected, f"the number {number(zone.to_m)}", remedy)
        else:
            if not before < zone.to_m < end:
                expected = f"an offset between {number(before)} and {number(end)}, inside the section and rising"
                yield path, refusal(expected, f"the number {number(zone.to_m)}", "Correct the offset.")
            before = max(before, zone.to_m)


CHANNEL_SECTIONS: dict[str, type[Table]] = {**OPEN_SECTIONS, "surveyed": Surveyed}
AnySection = chosen_by("shape", CHANNEL_SECTIONS)
ChannelSection = Annotated[Rectangle | Trapezoid, AnySection]
SurveyedSection = Annotated[Surveyed, AnySection]


class SurveyedApproach(Table):
    """The surveyed channel just upstream, where the levels of the survey hold; friction in it is not counted, but the
    roughness of its zones tells how unevenly the water goes. Its bed is the lowest point, so that bed_level_m is not
    given."""

    section: SurveyedSection = Field(description="a table with the key shape, rectangle, trapezoid or surveyed")


class Approach(Table):
    """The channel just upstream; friction in it is not counted."""

    section: ChannelSection = Field(description="a table with the key shape, rectangle, trapezoid or surveyed")
    bed_level_m: Level = Field(description="the level of its bed [m]")

    @classmethod
    def variant(cls, raw: Any) -> type[Table]:
        return SurveyedApproach if has_survey(raw) else cls


AnyApproach = Annotated[Approach | SurveyedApproach, varied(Approach)]


def has_survey(raw: Any) -> bool:
    """Whether a table, as written, has a surveyed section: it is then checked for other keys."""
    section = raw.get("section") if isinstance(raw, dict) else None
    return isinstance(section, dict) and section.get("shape") == "surveyed"
