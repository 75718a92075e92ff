"""Simple cross-sections as a study writes them: open channels, and the shapes of barrels and openings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from overbank.study.reading.folder import HIGHEST, LOWEST
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.plain import whole_number
from overbank.study.reading.table import Table, chosen_by

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


class Barrel(Table):
    """What barrels of every shape have: like ones side by side, each with the same inverts."""

    count: Annotated[int, whole_number(1, 20)] = Field(1, description="the number of like barrels")
    length_m: Reach = Field(description="the length of the barrel [m]")
    upstream_invert_m: Level = Field(description="the level of the invert at the inlet [m]")
    downstream_invert_m: Level = Field(description="the level of the invert at the outlet [m]")
    manning_n: Roughness = Field(description="Manning's n of the barrel")
    bed_manning_n: Roughness | None = Field(None, description="Manning's n of a natural bed")
    silt_manning_n: Roughness | None = Field(None, description="Manning's n of silt that blocks it from the bottom up")

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


BARRELS: dict[str, type[Table]] = {"box": Box, "pipe": Pipe, "arch": Arch, "ellipse": Ellipse}
AnyBarrel = Annotated[Box | Pipe | Arch | Ellipse, chosen_by("shape", BARRELS)]


RoadCoefficient = Annotated[Number, number_from(1.0, 2.0, "a weir coefficient [m^0.5/s]")]
ROAD_COEFFICIENT = default(1.55, "middle of 1.40 to 1.70; FHWA HDS-5 (2001), p. 65 and 67, has 1.49 to 1.61 for gravel")


class Road(Table):
    """The road or embankment over the barrels, as a weir."""

    level_m: Level = Field(description="the lowest level of the road [m]")
    length_m: Annotated[Number, number_from(0.1, 2000.0, "a length [m]")] = Field(
        description="the length of road that water can pass over, across the flow [m]"
    )
    coefficient: RoadCoefficient = ROAD_COEFFICIENT
