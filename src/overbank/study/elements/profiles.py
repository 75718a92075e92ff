"""Roads and crests that follow a profile: their table, their lowest point, and what formulas take of them."""

from __future__ import annotations

from typing import Annotated, Any

import numpy as np
from pydantic import Field, PlainValidator, ValidationInfo

from overbank.site.crest_line import CrestLine
from overbank.study.collect import Collected, Follower
from overbank.study.elements.extents import Extent, Reader
from overbank.study.reading.folder import SurveyPoints, folder_of
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.table import Table, varied
from overbank.study.sections import ROAD_COEFFICIENT, Road, RoadCoefficient


def _read_profile(raw: Any, info: ValidationInfo) -> SurveyPoints:
    return folder_of(info).profile(raw)


Profile = Annotated[SurveyPoints, PlainValidator(_read_profile)]
PROFILE = "the name of a CSV file with the header offset_m,level_m, along the crest"
Shift = Annotated[Number, number_from(-20.0, 20.0, "a shift [m]")]


class RoadProfile(Table):
    """A road that follows a profile; it ends at upright walls."""

    profile: Profile = Field(description=PROFILE)
    shift_m: Shift = default(
        0.0,
        "the levels of the profile as they stand",
        "what is added to every level of the survey or profile: the error of its datum [m]",
    )
    coefficient: RoadCoefficient = ROAD_COEFFICIENT


class AnyRoad(Road):
    """The road or embankment over the barrels, as a weir."""

    @classmethod
    def variant(cls, raw: Any) -> type[Table]:
        return RoadProfile if isinstance(raw, dict) and "profile" in raw else Road


RoadOver = Annotated[Road | RoadProfile, varied(AnyRoad)]


def fill_profile(collected: Collected, points: SurveyPoints, path: str, length: str, bed: str = "level_m") -> None:
    """Lowest level and length of a profile, under the names that a level crest or bed has."""
    lowest = Number(min(points.levels), basis=f"the lowest point of {points.name}")
    collected.add(f"{path}.lowest_point_m", lowest)
    collected.follow(Follower(f"{path}.{bed}", f"{path}.lowest_point_m", (f"{path}.shift_m",)))
    span = Number(points.offsets[-1] - points.offsets[0], basis=f"from end to end of {points.name}")
    collected.add(f"{path}.{length}", span)


def crest_line(points: SurveyPoints) -> CrestLine:
    """What the formulas take of a profile."""
    offsets, levels = np.array(points.offsets), np.array(points.levels)
    return CrestLine(np.column_stack([offsets - offsets[0], levels - levels.min()]))


def profile_of(reader: Reader, table: Any, key: str) -> SurveyPoints | None:
    """The profile that a table names under a key; None where there is none to read."""
    if not isinstance(table, dict) or key not in table:
        return None
    try:
        return reader.study.folder.profile(table[key])
    except ValueError:
        return None


def lowest_of_profile(reader: Reader, table: Any, place: tuple[str | int, ...], key: str) -> Extent | None:
    """Lowest level of the profile that a table of an element names, its shift included; None where there is none."""
    points = profile_of(reader, table, key)
    if points is None:
        return None
    words = str(place[-1])
    lowest, shift = Extent.certain(words, min(points.levels)), reader.get("shift", *place, "shift_m")
    return lowest.plus(words, shift) if shift else lowest
