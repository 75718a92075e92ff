"""What a study may say of people at a culvert: who they are taken to be, and how the bars are reached for raking."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, ClassVar, Self

from pydantic import Field

from overbank.hydraulics.hazard import DANGER_FOR_ALL, land_uses
from overbank.site.people import Bodies
from overbank.study.elements.asked import certain_number
from overbank.study.reading.folder import HIGHEST, LOWEST
from overbank.study.reading.numbers import Number, default
from overbank.study.reading.plain import Truth, one_of
from overbank.study.reading.table import Table

LAND_USES, EDITIONS = tuple(land_uses()), tuple(DANGER_FOR_ALL)
"""Words for the land, on which the debris factor of the hazard rating stands, and for the edition of its bounds."""

RANGE = "from memory, unverified; a choice within it"


class People(Table):
    """Who is looked at where a person is held on the bars or stands in the water, and beside what land. Nothing here
    changes a level."""

    drag_coefficient: Annotated[Number, certain_number(0.5, 2.0, "a drag coefficient")] = default(
        1.2, f"an upright person in a current, 1.0 to 1.3 ({RANGE})"
    )
    adult_area_m2: Annotated[Number, certain_number(0.1, 1.5, "an area [m2]")] = default(
        0.6, f"an adult turned to the flow, 0.4 to 0.7 m2 ({RANGE})"
    )
    child_area_m2: Annotated[Number, certain_number(0.05, 1.0, "an area [m2]")] = default(
        0.3, f"a child turned to the flow, 0.2 to 0.35 m2 ({RANGE})"
    )
    land_use: Annotated[str, one_of(LAND_USES)] = Field(
        "urban", description="the use of the land around, which sets the debris factor of the hazard rating"
    )
    hazard_edition: Annotated[str, one_of(EDITIONS)] = Field(
        EDITIONS[0], description="the edition whose bounds the classes of the hazard rating have"
    )


class Raking(Table):
    """How a person reaches the bars to rake them. Facts for the report; nothing here changes a level."""

    platform_level_m: Annotated[Number, certain_number(LOWEST, HIGHEST, "a level [m]")] | None = Field(
        None, description="the level of the platform to rake from [m]"
    )
    rake_length_m: Annotated[Number, certain_number(0.3, 10.0, "a length [m]")] | None = Field(
        None, description="how far down along the bars a rake reaches from the platform [m]"
    )
    cross_bars: Truth | None = Field(None, description="true or false: do bars run across, where a rake catches")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "platform_level_m": "not stated",
        "rake_length_m": "not stated",
        "cross_bars": "not stated",
    }


@dataclass(frozen=True)
class Persons:
    """What a study says of people at an element; `raking` is None where there are no bars to rake."""

    taken: People
    raking: Raking | None

    @classmethod
    def of(cls, taken: People | None, raking: Raking | None, screened: bool) -> Self:
        """The defaults where the study says nothing."""
        bars = (raking or Raking.model_validate({})) if screened else None
        return cls(taken or People.model_validate({}), bars)

    @property
    def bodies(self) -> Bodies:
        """What is taken of people."""
        numbers = self.taken.drag_coefficient, self.taken.adult_area_m2, self.taken.child_area_m2
        return Bodies(*(number.median for number in numbers))
