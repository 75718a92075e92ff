"""What stands in the water, as a study writes it, listed going upstream."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import Field

from overbank.hydraulics.tables import read_table
from overbank.study.asked import AskedOfCulvert
from overbank.study.bridges import Bridge
from overbank.study.inlets import AnyInlet, Inlet, unknown_edges
from overbank.study.patterns import Blockage, Pattern
from overbank.study.people import People, Raking
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.plain import Id, Text, Truth
from overbank.study.reading.refusals import LocatedRefusal, choose, list_of, refusal, shown
from overbank.study.reading.table import Table, chosen_by
from overbank.study.sections import AnyBarrel, Level, Reach, Road, Roughness, Size, Width
from overbank.study.surveyed import ChannelSection, SurveyedSection, has_survey
from overbank.study.weirs import Weir

BedSlope = Annotated[Number, number_from(-0.05, 0.2, "a bed slope")]


def bar_shapes() -> dict[str, dict[str, str]]:
    """Rows of the table of bar shapes that suit the clean-screen formula, by their word."""
    return {row["bar_shape"]: dict(row) for row in read_table("bar_shapes") if row["formula"] == "kirschmer"}


class Screen(Table):
    """Bars before the inlet. Its height is upright, from its sill."""

    width_m: Width = Field(description="the width of the screen across the flow [m]")
    height_m: Size = Field(description="the upright height of the screen above its sill [m]")
    bar_m: Annotated[Number, number_from(0.001, 0.5, "a thickness [m]")] = Field(
        description="the thickness of a bar across the flow [m]"
    )
    gap_m: Annotated[Number, number_from(0.005, 2.0, "a clear gap [m]")] = Field(
        description="the clear gap between bars [m]"
    )
    inclination_deg: Annotated[Number, number_from(10.0, 90.0, "an angle [deg]")] = default(
        90.0, "the screen stands upright"
    )
    bar_shape: Text | None = Field(None, description="the shape of the bars, a word of the table of bar shapes")
    shape_factor: Annotated[Number, number_from(0.5, 4.0, "a shape factor")] | None = Field(
        None, description="the shape factor of the bars"
    )
    blockage: Blockage = Field(description="the blocked share of the clear opening, from 0 to 1")
    pattern: Pattern = default(0.0, "uniform: the debris is spread over the whole screen")
    sill_level_m: Level | None = Field(None, description="the level of the foot of the bars [m]")
    overflow: Truth = Field(True, description="true or false: can water pass over the top")
    overflow_coefficient: Annotated[Number, number_from(1.0, 2.2, "a weir coefficient [m^0.5/s]")] | None = Field(
        None, description="the weir coefficient of the top of the screen [m^0.5/s]"
    )
    raking: Raking | None = None

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        shape, shapes = raw.get("bar_shape"), tuple(bar_shapes())
        if shape is not None and "shape_factor" in raw:
            remedy = "Keep one: the factor belongs to the shape."
            yield ("shape_factor",), refusal("bar_shape or shape_factor", "both", remedy)
        if isinstance(shape, str) and shape not in shapes:
            yield ("bar_shape",), refusal(list_of(shapes), shown(shape), choose(shape, shapes))
        if raw.get("overflow") is False and "overflow_coefficient" in raw:
            remedy = "Remove it, or write overflow = true."
            expected = "no overflow_coefficient beside overflow = false"
            yield ("overflow_coefficient",), refusal(expected, "one", remedy)


class Relief(Table):
    """A second group of barrels in the same crossing, at levels of its own, that shares the flow. The screen does not
    stand before it."""

    barrel: AnyBarrel = Field(description="a table with the keys shape, length_m, ...")
    inlet: Inlet = Field(description="a table with the key edge")
    blockage: Blockage = default(0.0, "no blockage given: clean")
    pattern: Pattern = default(0.0, "no pattern given: uniform")

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        yield from unknown_edges(raw)


class Culvert(Table):
    """Barrels with an inlet; a screen before them, relief barrels beside them, a road over all, if there are any."""

    kind: Literal["culvert"]
    id: Id = Field(description="a short name for the element")
    barrel: AnyBarrel = Field(description="a table with the keys shape, length_m, ...")
    inlet: AnyInlet = Field(description="a table with the key edge")
    screen: Screen | None = None
    relief: Relief | None = None
    road: Road | None = None
    blockage: Blockage | None = Field(None, description="the blocked share of the barrel, from 0 to 1")
    pattern: Pattern | None = Field(None, description="the pattern of the blockage")
    asked: AskedOfCulvert | None = None
    people: People | None = None
    bank_level_m: Level | None = Field(None, description="the level at which the water leaves its banks [m]")

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        yield from unknown_edges(raw)
        for key in ("blockage", "pattern"):
            if key in raw and "screen" in raw:
                expected = f"{key} on the screen, which catches the debris"
                yield (key,), refusal(expected, "one on the culvert", f"Write it as screen.{key} only.")
        if "pattern" in raw and "blockage" not in raw and "screen" not in raw:
            fault = refusal("pattern only beside a blockage", "one without", "Add blockage = ... here.")
            yield ("pattern",), fault
        asked = raw.get("asked")
        if isinstance(asked, dict) and "screen_area_ratio" in asked and "screen" not in raw:
            fault = refusal("screen_area_ratio only of a culvert with a screen", "one without", "Remove it.")
            yield ("asked", "screen_area_ratio"), fault


class SurveyedChannel(Table):
    """An open reach of one surveyed section and slope. The levels of the survey hold at its downstream end and rise
    upstream with the bed; the bed is the lowest point and each zone has its roughness, so that neither bed_level_m nor
    manning_n is given."""

    kind: Literal["channel"]
    id: Id = Field(description="a short name for the element")
    section: SurveyedSection = Field(description="a table with the key shape, rectangle, trapezoid or surveyed")
    length_m: Reach = Field(description="the length of the reach [m]")
    bed_slope: BedSlope = Field(description="the fall of the bed per length, downstream")
    bank_level_m: Level | None = Field(None, description="the level at which the water leaves its banks [m]")


class Channel(Table):
    """An open reach of one section and slope. The bank is compared with the level at its upstream end."""

    kind: Literal["channel"]
    id: Id = Field(description="a short name for the element")
    section: ChannelSection = Field(description="a table with the key shape, rectangle, trapezoid or surveyed")
    length_m: Reach = Field(description="the length of the reach [m]")
    bed_level_m: Level | None = Field(None, description="the level of the bed at the downstream end [m]")
    bed_slope: BedSlope = Field(description="the fall of the bed per length, downstream")
    manning_n: Roughness = Field(description="Manning's n of the channel")
    bank_level_m: Level | None = Field(None, description="the level at which the water leaves its banks [m]")

    @classmethod
    def variant(cls, raw: Any) -> type[Table]:
        return SurveyedChannel if has_survey(raw) else cls


ELEMENTS: dict[str, type[Table]] = {"culvert": Culvert, "channel": Channel, "weir": Weir, "bridge": Bridge}
"""Every kind of element by its word."""

Element = Annotated[Culvert | Channel | SurveyedChannel | Weir | Bridge, chosen_by("kind", ELEMENTS)]
