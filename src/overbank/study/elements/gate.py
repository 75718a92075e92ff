"""A sluice gate as a study writes it: its opening, the channel before it, and its top where water can go over it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from overbank.site import gate as site
from overbank.study.collect import Collected, Follower
from overbank.study.elements.approach import WithApproach
from overbank.study.elements.element import Element
from overbank.study.elements.extents import Extent, Reader, out_of_order, remedy
from overbank.study.patterns import Blockage
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.refusals import LocatedRefusal, refusal
from overbank.study.reading.table import Table, chosen_by
from overbank.study.sections import Level, Rectangle, Width
from overbank.study.surveyed import Approach

TOP_COEFFICIENT = Number(
    1.8, basis="a thin plate, 2/3 x 0.611 (2 g)^0.5 (ISO 1438, from memory, unverified)", assumed=True
)


class GateApproach(Approach):
    """The rectangular channel just upstream, whose bed goes on below the gate."""

    section: Annotated[Rectangle, chosen_by("shape", {"rectangle": Rectangle})] = Field(
        description="a table with the keys shape, which is rectangle, and width_m"
    )

    @classmethod
    def variant(cls, raw: Any) -> type[Table]:  # noqa: ARG003
        return cls


class Gate(WithApproach):
    """A sluice gate, or several like ones side by side with the same opening. The bank is compared with the level just
    upstream."""

    kind: Literal["gate"]
    width_m: Width = Field(description="the clear width of the opening, of all gates together [m]")
    opening_m: Annotated[Number, number_from(0.0, 20.0, "a height [m]")] = Field(
        description="the height of the lip above the sill [m]"
    )
    contraction: Annotated[Number, number_from(0.5, 1.0, "a contraction coefficient")] = default(
        0.61, "a sharp lip; usual in published exercises (read in them)"
    )
    sill_level_m: Level | None = Field(None, description="the level of the floor below the lip [m]")
    top_level_m: Level | None = Field(None, description="the level from which water passes over the gate [m]")
    top_coefficient: Annotated[Number, number_from(1.0, 2.2, "a weir coefficient [m^0.5/s]")] | None = Field(
        None, description="the weir coefficient of the top of the gate [m^0.5/s]"
    )
    blockage: Blockage = default(0.0, "no blockage given: clean")
    approach: GateApproach = Field(description="a table with the keys section, bed_level_m")
    bank_level_m: Level | None = Field(None, description="the level at which the water leaves its banks [m]")

    NAMES: ClassVar[Mapping[str, tuple[str, str]]] = {
        "contraction": ("contraction of the jet", ""),
        "top_coefficient": ("weir coefficient of its top", "m^0.5/s"),
    }
    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "sill_level_m": "the bed of the approach",
        "top_level_m": "no water passes over the gate",
        "top_coefficient": f"{TOP_COEFFICIENT.median:g}: {TOP_COEFFICIENT.basis}",
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        if "top_coefficient" in raw and "top_level_m" not in raw:
            fault = refusal("top_coefficient only beside a top_level_m", "one without", "Remove it, or add the level.")
            yield ("top_coefficient",), fault

    @property
    def channel(self) -> Approach:
        return self.approach

    def fill(self, collected: Collected, below: Element | None) -> None:  # noqa: ARG002
        if self.sill_level_m is None:
            collected.follow(Follower(f"{self.id}.sill_level_m", f"{self.id}.approach.bed_level_m"))
        if self.top_level_m is not None and self.top_coefficient is None:
            collected.add(f"{self.id}.top_coefficient", TOP_COEFFICIENT)

    def build(self, above: Element | None) -> site.Gate:  # noqa: ARG002
        return site.Gate(self.id, has_top=self.top_level_m is not None)

    @classmethod
    def impossible(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Iterator[LocatedRefusal]:
        """A sill below the bed, a bank or a top below the lip, a gate wider than its channel."""
        bed = cls.top(reader, raw, below)
        sill, opening = reader.get("sill", "sill_level_m"), reader.get("opening", "opening_m")
        if sill and bed and (wrong := out_of_order(sill, bed, equal=True)):
            fault = refusal("a sill that is not below the bed of the approach", wrong, remedy(wrong))
            yield (*reader.path, "sill_level_m"), fault
        floor = sill or bed
        yield from reader.order(("bank_level_m",), "bank", floor, "a bank above the sill")
        lip = floor.plus("lip", opening) if floor and opening else None
        yield from reader.order(("top_level_m",), "top", lip, "a top above the lip")
        width, room = reader.get("gate", "width_m"), reader.get("channel", "approach", "section", "width_m")
        if width and room and (wrong := out_of_order(room, width, equal=True)):
            yield (*reader.path, "width_m"), refusal("a gate not wider than the channel", wrong, remedy(wrong))
