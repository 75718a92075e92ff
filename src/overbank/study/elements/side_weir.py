"""A side weir as a study writes it: a stretch of channel, and the crest along its side."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from overbank.site import side_weir as site
from overbank.study.collect import Collected, Follower
from overbank.study.elements.element import Element
from overbank.study.elements.extents import Extent, Reader
from overbank.study.reading.numbers import Number, number_from
from overbank.study.reading.refusals import LocatedRefusal, refusal
from overbank.study.reading.table import chosen_by
from overbank.study.sections import OPEN_SECTIONS, Level, Rectangle, Trapezoid
from overbank.study.sections import Reach as Length


class SideWeir(Element):
    """A stretch of channel with a level bed and a crest along its side, over which water falls freely and does not come
    back. What stands below it has so much less flow. The bank is compared with the highest level along the crest."""

    kind: Literal["side_weir"]
    section: Annotated[Rectangle | Trapezoid, chosen_by("shape", OPEN_SECTIONS)] = Field(
        description="a table with the key shape, rectangle or trapezoid"
    )
    length_m: Length = Field(description="the length of the crest, along the flow [m]")
    bed_level_m: Level | None = Field(None, description="the level of the bed beside the crest [m]")
    crest_level_m: Level = Field(description="the level of the crest [m]")
    coefficient: Annotated[Number, number_from(0.3, 2.2, "a weir coefficient [m^0.5/s]")] = Field(
        description="the weir coefficient of the crest, less than across the flow: some 1.1 to 1.8 [m^0.5/s]"
    )
    bank_level_m: Level | None = Field(None, description="the level at which the water leaves its other banks [m]")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "bed_level_m": "the upstream bed of the element below; needed in the first element",
    }

    def fill(self, collected: Collected, below: Element | None) -> None:
        """Its bed lies on what is below."""
        if self.bed_level_m is None and below is not None:
            collected.follow(Follower(f"{self.id}.bed_level_m", *below.bed_above()))

    def bed_above(self) -> tuple[str, tuple[str, ...]]:
        return f"{self.id}.bed_level_m", ()

    def bed_below(self) -> str:
        return f"{self.id}.bed_level_m"

    def build(self, above: Element | None) -> site.SideWeir:  # noqa: ARG002
        return site.SideWeir(self.id, self.section.shape)

    @classmethod
    def impossible(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Iterator[LocatedRefusal]:
        """A crest or a bank below the bed."""
        bed = cls.top(reader, raw, below)
        yield from reader.order(("crest_level_m",), "crest", bed, "a crest above the bed")
        yield from reader.order(("bank_level_m",), "bank", bed, "a bank above the bed")

    @classmethod
    def top(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Extent | None:
        return reader.get("bed", "bed_level_m") if "bed_level_m" in raw else below

    @classmethod
    def as_the_first(cls, raw: dict[str, Any], normal_depth: dict[str, Any] | None) -> Iterator[LocatedRefusal]:  # noqa: ARG003
        if "bed_level_m" not in raw:
            expected = "the level of the bed beside the crest [m], as no element lies below"
            yield ("element", 0, "bed_level_m"), refusal(expected, "nothing", "Add bed_level_m = ... here.")
