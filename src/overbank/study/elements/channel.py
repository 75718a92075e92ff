"""An open reach as a study writes it, of a simple or of a surveyed section."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from overbank.site import channel as site
from overbank.study.collect import Collected, Follower
from overbank.study.elements.approach import fill_survey, lowest_point, survey_section
from overbank.study.elements.bank_line import BankLine, bank_line, fill_bank, impossible_bank
from overbank.study.elements.element import Element
from overbank.study.elements.extents import Extent, Reader
from overbank.study.reading.numbers import Number, number_from
from overbank.study.reading.refusals import LocatedRefusal, refusal
from overbank.study.reading.table import Table
from overbank.study.sections import Level, Roughness
from overbank.study.sections import Reach as Length
from overbank.study.surveyed import ChannelSection, SurveyedSection, has_survey

BedSlope = Annotated[Number, number_from(-0.05, 0.2, "a bed slope")]


class Reach(Element):
    """What reaches of simple and of surveyed sections have in common."""

    IS_REACH: ClassVar[bool] = True

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "bank": "the bank is level, or none is compared",
    }

    def bed_above(self) -> tuple[str, tuple[str, ...]]:
        return f"{self.id}.bed_level_m", (f"{self.id}.bed_slope", f"{self.id}.length_m")

    def bed_below(self) -> str:
        return f"{self.id}.bed_level_m"

    @classmethod
    def impossible(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Iterator[LocatedRefusal]:
        """A bank below the bed."""
        top = cls.top(reader, raw, below)
        yield from reader.order(("bank_level_m",), "bank", top, "a bank above the bed at its upstream end")
        yield from impossible_bank(reader, raw, cls.foot_of(reader, raw, below))

    @classmethod
    def top(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Extent | None:
        """The bed at the upstream end."""
        foot = cls.foot_of(reader, raw, below)
        slope, length = reader.get("slope", "bed_slope"), reader.get("length", "length_m")
        if not (foot and slope and length):
            return None
        return foot.plus("bed", slope.times(length))

    @classmethod
    def foot_of(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Extent | None:
        """The bed at the downstream end, which lies on what is below unless given."""
        if has_survey(raw):
            return lowest_point(reader, raw)
        return reader.get("bed", "bed_level_m") if "bed_level_m" in raw else below


class SurveyedChannel(Reach):
    """An open reach of one surveyed section and slope. The levels of the survey hold at its downstream end and rise
    upstream with the bed; the bed is the lowest point and each zone has its roughness, so that neither bed_level_m nor
    manning_n is given."""

    kind: Literal["channel"]
    section: SurveyedSection = Field(description="a table with the key shape, rectangle, trapezoid or surveyed")
    length_m: Length = Field(description="the length of the reach [m]")
    bed_slope: BedSlope = Field(description="the fall of the bed per length, downstream")
    bank_level_m: Level | None = Field(None, description="the level at which the water leaves its banks [m]")
    bank: BankLine | None = Field(None, description="a bank that follows a profile, in place of bank_level_m")

    def fill(self, collected: Collected, below: Element | None) -> None:  # noqa: ARG002
        """Its bed: the lowest point of its survey."""
        fill_survey(collected, self.section, self.id)
        fill_bank(collected, self.bank, self.id)

    def build(self, above: Element | None) -> site.SurveyedChannel:  # noqa: ARG002
        return site.SurveyedChannel(self.id, survey_section(self.section), bank_line(self.bank))


class Channel(Reach):
    """An open reach of one section and slope. The bank is compared with the level at its upstream end."""

    kind: Literal["channel"]
    section: ChannelSection = Field(description="a table with the key shape, rectangle, trapezoid or surveyed")
    length_m: Length = Field(description="the length of the reach [m]")
    bed_level_m: Level | None = Field(None, description="the level of the bed at the downstream end [m]")
    bed_slope: BedSlope = Field(description="the fall of the bed per length, downstream")
    manning_n: Roughness = Field(description="Manning's n of the channel")
    bank_level_m: Level | None = Field(None, description="the level at which the water leaves its banks [m]")
    bank: BankLine | None = Field(None, description="a bank that follows a profile, in place of bank_level_m")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "bed_level_m": "the upstream bed of the element below; needed in the first element",
    }

    @classmethod
    def variant(cls, raw: Any) -> type[Table]:
        return SurveyedChannel if has_survey(raw) else cls

    def fill(self, collected: Collected, below: Element | None) -> None:
        """Its bed lies on what is below."""
        if self.bed_level_m is None and below is not None:
            collected.follow(Follower(f"{self.id}.bed_level_m", *below.bed_above()))
        fill_bank(collected, self.bank, self.id)

    @property
    def foot(self) -> tuple[str, str]:
        return self.id, self.section.shape

    def build(self, above: Element | None) -> site.Channel:  # noqa: ARG002
        return site.Channel(self.id, self.section.shape, bank_line(self.bank))

    @classmethod
    def as_the_first(cls, raw: dict[str, Any], normal_depth: dict[str, Any] | None) -> Iterator[LocatedRefusal]:  # noqa: ARG003
        if "bed_level_m" not in raw:
            expected = "the level of the bed at the downstream end [m], as no element lies below"
            yield ("element", 0, "bed_level_m"), refusal(expected, "nothing", "Add bed_level_m = ... here.")
