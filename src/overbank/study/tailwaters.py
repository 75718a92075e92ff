"""The level below the first element, as a study writes it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar

from pydantic import Field, PlainValidator, ValidationInfo

from overbank.study.reading.folder import RatingTable, folder_of
from overbank.study.reading.numbers import Number, number_from
from overbank.study.reading.refusals import LocatedRefusal, refusal
from overbank.study.reading.table import Table, unknown_keys, varied
from overbank.study.sections import Level, Roughness
from overbank.study.surveyed import ChannelSection, SurveyedSection, has_survey

WAYS = ("normal_depth", "level_m", "rating")


Slope = Annotated[Number, number_from(1e-6, 0.2, "a bed slope above 0,")]


class SurveyedNormalDepth(Table):
    """Normal depth in a surveyed section just below the first element, where the levels of the survey hold; neither
    bed_level_m nor manning_n is given. Of several normal levels the lowest is taken."""

    section: SurveyedSection = Field(description="a table with the key shape, rectangle, trapezoid or surveyed")
    slope: Slope = Field(description="the slope of the bed")


class NormalDepth(Table):
    """Normal depth in the channel below."""

    section: ChannelSection = Field(description="a table with the key shape, rectangle, trapezoid or surveyed")
    slope: Slope = Field(description="the slope of the bed")
    manning_n: Roughness = Field(description="Manning's n of the channel")
    bed_level_m: Level | None = Field(None, description="the level of the bed [m]")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "bed_level_m": "the downstream bed of the first element",
    }

    @classmethod
    def variant(cls, raw: Any) -> type[Table]:
        return SurveyedNormalDepth if has_survey(raw) else cls


def _read_rating(raw: Any, info: ValidationInfo) -> RatingTable:
    return folder_of(info).rating(raw)


class Tailwater(Table):
    """One of three: normal depth, a level, or a rating table with an uncertain shift."""

    normal_depth: Annotated[NormalDepth | SurveyedNormalDepth, varied(NormalDepth)] | None = None
    level_m: Level | None = Field(None, description="a level [m]")
    rating: Annotated[RatingTable, PlainValidator(_read_rating)] | None = Field(
        None, description="the name of a CSV file with the header flow_m3_s,level_m"
    )
    rating_shift_m: Annotated[Number, number_from(-20.0, 20.0, "a shift [m]")] | None = Field(
        None, description="what is added to every level of the rating [m]"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "normal_depth": "one of the three is needed",
        "level_m": "one of the three is needed",
        "rating": "one of the three is needed",
        "rating_shift_m": "0: the rating as it stands",
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        given = [key for key in raw if key in WAYS]
        if len(given) > 1 or (not given and not unknown_keys(cls, raw)):
            remedy = "Keep one of them." if given else "Add one of them."
            yield (), refusal(f"exactly one of {', '.join(WAYS)}", " and ".join(given) or "none", remedy)
        if "rating_shift_m" in raw and "rating" not in raw:
            fault = refusal("rating_shift_m only beside a rating", "one without", "Remove it, or add the rating.")
            yield ("rating_shift_m",), fault
