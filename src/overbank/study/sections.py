"""Simple cross-sections as a study writes them: open channels, and the shapes of barrels and openings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from overbank.site.barrel_parts import JOINTS
from overbank.study.reading.folder import HIGHEST, LOWEST
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.plain import one_of, whole_number
from overbank.study.reading.refusals import LocatedRefusal, list_of, refusal
from overbank.study.reading.table import Table, chosen_by
from overbank.study.traced import TracedShape

Level = Annotated[Number, number_from(LOWEST, HIGHEST, "a level [m]")]
Roughness = Annotated[Number, number_from(0.005, 0.5, "a Manning n")]
Width = Annotated[Number, number_from(0.01, 500.0, "a width [m]")]
Size = Annotated[Number, number_from(0.01, 50.0, "a size [m]")]
Rise = Annotated[Number, number_from(0.01, 50.0, "a rise, from the invert up to the soffit [m],")]
Reach = Annotated[Number, number_from(0.1, 100_000.0, "a length [m]")]
Bar = Annotated[Number, number_from(0.0002, 0.5, "a thickness [m]")]
Gap = Annotated[Number, number_from(0.001, 2.0, "a clear gap [m]")]


class Rectangle(Table):
    """An open rectangle."""

    shape: Literal["rectangle"]
    width_m: Width = Field(description="the width of the channel [m]")


class Trapezoid(Table):
    """An open trapezoid; a side slope of 1.5 goes 1.5 m aside for 1 m up."""

    shape: Literal["trapezoid"]
    bed_width_m: Width = Field(description="the width of the bed [m]")
    side_slope: Annotated[Number, number_from(0.0, 20.0, "a side slope, across over up")] = Field(
        description="the slope of the sides, across over up"
    )


OPEN_SECTIONS: dict[str, type[Table]] = {"rectangle": Rectangle, "trapezoid": Trapezoid}


class BoxShape(Table):
    """A rectangle with a roof."""

    shape: Literal["box"]
    span_m: Size = Field(description="the clear width of one barrel or opening [m]")
    rise_m: Rise = Field(description="the clear height of one barrel or opening [m]")


class PipeShape(Table):
    """A circle."""

    shape: Literal["pipe"]
    diameter_m: Size = Field(description="the clear diameter of one barrel or opening [m]")


class ArchShape(Table):
    """A flat bed, upright walls, and a crown that is a segment of a circle."""

    shape: Literal["arch"]
    span_m: Size = Field(description="the clear width of one barrel or opening at its bed [m]")
    rise_m: Rise = Field(description="the clear height of one barrel or opening, from bed to crown [m]")
    wall_height_m: Annotated[Number, number_from(0.0, 50.0, "a height [m]")] = Field(
        description="the height of the upright walls below the crown's springing [m]"
    )


class EllipseShape(Table):
    """An ellipse."""

    shape: Literal["ellipse"]
    span_m: Size = Field(description="the greatest clear width of one barrel or opening [m]")
    rise_m: Rise = Field(description="the greatest clear height of one barrel or opening [m]")


class PipeArchShape(Table):
    """A pipe-arch of four arcs that touch: a flat invert, two corners, a crown."""

    shape: Literal["pipe_arch"]
    span_m: Size = Field(description="the greatest clear width of one barrel [m]")
    rise_m: Rise = Field(description="the clear height of one barrel, from invert to crown [m]")
    corner_radius_m: Annotated[Number, number_from(0.005, 5.0, "a radius [m]")] = Field(
        description="the radius of the corners [m]"
    )
    corner_height_m: Annotated[Number, number_from(0.01, 20.0, "a height [m]")] = Field(
        description="the height of the centres of the corners above the invert, where the barrel is widest [m]"
    )


class EggShape(Table):
    """An upright egg: a half-round crown, an invert of half its radius, sides that touch both."""

    shape: Literal["egg"]
    span_m: Size = Field(description="the greatest clear width of one barrel [m]")
    rise_m: Rise = Field(description="the clear height of one barrel; usually half as high again as wide [m]")


class HorseshoeShape(Table):
    """A standard horseshoe: a half-round crown, an invert and sides of twice its radius."""

    shape: Literal["horseshoe"]
    diameter_m: Size = Field(description="the clear height of one barrel, and its greatest width [m]")


class Lying(Table):
    """What parts of a barrel of every shape have: how they lie, and their roughness."""

    length_m: Reach = Field(description="the length of the part [m]")
    upstream_invert_m: Level | None = Field(None, description="the level of the invert at its upper end [m]")
    downstream_invert_m: Level = Field(description="the level of the invert at its lower end [m]")
    manning_n: Roughness = Field(description="Manning's n of the part")
    bed_manning_n: Roughness | None = Field(None, description="Manning's n of a natural bed")
    joint: Annotated[str, one_of(tuple(JOINTS))] | None = Field(
        None, description=f"what joins it to the part above: {list_of(tuple(JOINTS))}"
    )
    bend_deg: Annotated[Number, number_from(0.0, 90.0, "an angle [deg]")] = default(
        0.0, "the part runs on straight", "the angle through which the barrel turns at the upper end of the part [deg]"
    )
    bend_radius_m: Annotated[Number, number_from(0.05, 500.0, "a radius [m]")] | None = Field(
        None, description="the radius of the bend, to the middle of the barrel [m]"
    )
    joint_loss: Annotated[Number, number_from(0.0, 10.0, "a loss coefficient")] | None = Field(
        None, description="what is lost at its upper end, on the velocity head in it"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "upstream_invert_m": "where the part above ends",
        "joint": "nothing: the parts meet",
        "bend_radius_m": "the loss of a bend is 0.0033 a degree, whatever its radius",
        "joint_loss": "the published losses of bend, narrowing, manhole or chamber",
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        if "bend_radius_m" in raw and ("bend_deg" not in raw or "joint" in raw):
            expected = "bend_radius_m only beside bend_deg, and without a manhole or a chamber"
            yield ("bend_radius_m",), refusal(expected, "one", "Remove it, or give bend_deg alone with it.")
        for key in ("bend_deg", "bend_radius_m"):
            if key in raw and (raw.get("joint") == "chamber" or "joint_loss" in raw):
                other = "a joint_loss" if "joint_loss" in raw else "a chamber, in which the water comes to rest"
                yield (key,), refusal(f"no {key} beside {other}", "one", "Keep one of them.")


class BoxPart(BoxShape, Lying):
    """A rectangular part."""


class PipePart(PipeShape, Lying):
    """A circular part."""


class ArchPart(ArchShape, Lying):
    """A part with a flat bed, upright walls, and a crown that is a segment of a circle."""


class EllipsePart(EllipseShape, Lying):
    """An elliptical part."""


class PipeArchPart(PipeArchShape, Lying):
    """A part of four arcs that touch."""


class EggPart(EggShape, Lying):
    """An egg-shaped part."""


class HorseshoePart(HorseshoeShape, Lying):
    """A part like a standard horseshoe."""


class TracedPart(TracedShape, Lying):
    """A part traced by points."""


PARTS: dict[str, type[Table]] = {
    "box": BoxPart,
    "pipe": PipePart,
    "arch": ArchPart,
    "ellipse": EllipsePart,
    "pipe_arch": PipeArchPart,
    "egg": EggPart,
    "horseshoe": HorseshoePart,
    "traced": TracedPart,
}
AnyPart = Annotated[
    BoxPart | PipePart | ArchPart | EllipsePart | PipeArchPart | EggPart | HorseshoePart | TracedPart,
    chosen_by("shape", PARTS),
]


class Barrel(Table):
    """What barrels of every shape have: like ones side by side, each with the same inverts."""

    count: Annotated[int, whole_number(1, 20)] = Field(1, description="the number of like barrels")
    length_m: Reach = Field(description="the length of the barrel [m]")
    upstream_invert_m: Level = Field(description="the level of the invert at the inlet [m]")
    downstream_invert_m: Level = Field(
        description="the level of the invert at the outlet, or at the end of the first part where there are more [m]"
    )
    manning_n: Roughness = Field(description="Manning's n of the barrel")
    bed_manning_n: Roughness | None = Field(None, description="Manning's n of a natural bed")
    silt_manning_n: Roughness | None = Field(None, description="Manning's n of silt that blocks it from the bottom up")
    part: list[AnyPart] = Field([], description="the parts of the barrel below the one that begins at the inlet")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "bed_manning_n": "as manning_n",
        "silt_manning_n": "0.03, where silt may block the barrel",
    }


class Box(BoxShape, Barrel):
    """A rectangular barrel."""


class Pipe(PipeShape, Barrel):
    """A circular barrel."""


class Arch(ArchShape, Barrel):
    """A barrel with a flat bed, upright walls, and a crown that is a segment of a circle."""


class Ellipse(EllipseShape, Barrel):
    """An elliptical barrel."""


class PipeArch(PipeArchShape, Barrel):
    """A barrel of four arcs that touch."""


class Egg(EggShape, Barrel):
    """An egg-shaped barrel."""


class Horseshoe(HorseshoeShape, Barrel):
    """A barrel like a standard horseshoe."""


class TracedBarrel(TracedShape, Barrel):
    """A barrel traced by points."""


BARRELS: dict[str, type[Table]] = {
    "box": Box,
    "pipe": Pipe,
    "arch": Arch,
    "ellipse": Ellipse,
    "pipe_arch": PipeArch,
    "egg": Egg,
    "horseshoe": Horseshoe,
    "traced": TracedBarrel,
}
AnyBarrel = Annotated[
    Box | Pipe | Arch | Ellipse | PipeArch | Egg | Horseshoe | TracedBarrel, chosen_by("shape", BARRELS)
]


RoadCoefficient = Annotated[Number, number_from(1.0, 2.0, "a weir coefficient [m^0.5/s]")]
ROAD_COEFFICIENT = default(1.55, "middle of 1.40 to 1.70; FHWA HDS-5 (2001), p. 65 and 67, has 1.49 to 1.61 for gravel")


class Road(Table):
    """The road or embankment over the barrels, as a weir."""

    level_m: Level = Field(description="the lowest level of the road [m]")
    length_m: Annotated[Number, number_from(0.1, 2000.0, "a length [m]")] = Field(
        description="the length of road that water can pass over, across the flow [m]"
    )
    coefficient: RoadCoefficient = ROAD_COEFFICIENT
