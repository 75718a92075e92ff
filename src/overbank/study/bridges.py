"""A bridge as a study writes it: openings in one or two groups, skew, debris, deck and approach road."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import Field

from overbank.study.asked import AskedOfBridge
from overbank.study.patterns import Blockage, Pattern
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.plain import Id, one_of, whole_number
from overbank.study.reading.refusals import LocatedRefusal, list_of, refusal
from overbank.study.reading.suggestions import meant
from overbank.study.reading.table import Table, chosen_by, unknown_keys
from overbank.study.sections import ArchShape, BoxShape, EllipseShape, Level, PipeShape, Road
from overbank.study.surveyed import AnyApproach

SPANS = ("along the road", "square to the flow")
"""Which length a span is, where the bridge is skewed."""

PIERS = ("along the flow", "square to the road")
"""How piers stand, where the bridge is skewed."""

Loss = Annotated[Number, number_from(0.0, 1.0, "a loss coefficient")]
FROM_MEMORY = "usual near bridges (common practice; from memory, unverified)"
TXDOT = "TxDOT, Hydraulic Design Manual, chapter 9 section 4 (read in the source)"


class Opening(Table):
    """What openings of every shape have: like ones side by side."""

    count: Annotated[int, whole_number(1, 50)] = Field(1, description="the number of like openings")
    bed_level_m: Level = Field(description="the level of the bed in them [m]")


class BoxOpening(BoxShape, Opening):
    """An opening with a flat soffit."""


class PipeOpening(PipeShape, Opening):
    """A circular opening."""


class ArchOpening(ArchShape, Opening):
    """An arch on upright walls."""


class EllipseOpening(EllipseShape, Opening):
    """An elliptical opening."""


OPENINGS: dict[str, type[Table]] = {
    "box": BoxOpening,
    "arch": ArchOpening,
    "pipe": PipeOpening,
    "ellipse": EllipseOpening,
}
AnyOpening = Annotated[BoxOpening | ArchOpening | PipeOpening | EllipseOpening, chosen_by("shape", OPENINGS)]


class Skew(Table):
    """The angle between the flow and the square to the road, and which lengths are given."""

    angle_deg: Annotated[Number, number_from(0.0, 75.0, "an angle [deg]")] = Field(
        description="the angle between the flow and the line square to the road [deg]"
    )
    spans: Annotated[str, one_of(SPANS)] | None = Field(None, description=f"which length a span is: {list_of(SPANS)}")
    piers: Annotated[str, one_of(PIERS)] = Field("along the flow", description="how the piers stand")
    pier_length_m: Annotated[Number, number_from(0.0, 100.0, "a length [m]")] | None = Field(
        None, description="the length of a pier [m]"
    )

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        misspelt = meant(unknown_keys(cls, raw), cls.model_fields)
        skewed = "angle_deg" in raw and raw["angle_deg"] != 0
        if skewed and "spans" not in raw and "spans" not in misspelt:
            expected = f"which length a span is: {list_of(SPANS)}"
            yield ("spans",), refusal(expected, "nothing", "Add spans = ... here.")
        across = raw.get("piers") == "square to the road"
        if across and "pier_length_m" not in raw and "pier_length_m" not in misspelt:
            expected = "the length of a pier [m], as piers square to the road narrow a skewed span"
            yield ("pier_length_m",), refusal(expected, "nothing", "Add pier_length_m = ... here.")
        if not across and "pier_length_m" in raw and "piers" not in misspelt:
            expected = 'pier_length_m only beside piers = "square to the road"'
            yield ("pier_length_m",), refusal(expected, "one without", "Remove it, or add the piers.")


class Deck(Road):
    """The deck of the bridge, or its parapet, as a weir."""

    level_m: Level = Field(description="the level from which water passes over the deck or its parapet [m]")


class Bridge(Table):
    """A bridge. The bank is compared with the level just upstream."""

    kind: Literal["bridge"]
    id: Id = Field(description="a short name for the element")
    opening: AnyOpening = Field(description="a table with the keys shape, bed_level_m, ...")
    side_opening: AnyOpening | None = Field(None, description="a second group of openings, at a level of its own")
    approach: AnyApproach = Field(description="a table with the keys section, bed_level_m")
    skew: Skew | None = None
    contraction_loss: Loss = default(0.3, FROM_MEMORY)
    expansion_loss: Loss = default(0.5, FROM_MEMORY)
    sluice_coefficient: Annotated[Number, number_from(0.2, 0.8, "a discharge coefficient")] = default(0.5, TXDOT)
    orifice_coefficient: Annotated[Number, number_from(0.4, 1.0, "a discharge coefficient")] = default(0.8, TXDOT)
    afflux_factor: Annotated[Number, number_from(0.1, 8.0, "a factor")] = default(
        1.0, "the losses by energy taken as they stand"
    )
    blockage: Blockage = default(0.0, "no blockage given: clean")
    pattern: Pattern = default(0.0, "no pattern given: uniform")
    deck: Deck | None = None
    approach_road: Road | None = Field(None, description="the road beside the bridge, as a weir")
    asked: AskedOfBridge | None = None
    bank_level_m: Level | None = Field(None, description="the level at which the water leaves its banks [m]")

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        if "pattern" in raw and "blockage" not in raw:
            fault = refusal("pattern only beside a blockage", "one without", "Add blockage = ... here.")
            yield ("pattern",), fault
