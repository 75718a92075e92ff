"""A culvert as a study writes it: barrels, inlet, screen, relief barrels, road."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from overbank.hydraulics.sections import SILT_MANNING_N
from overbank.hydraulics.tables import inlets, read_table
from overbank.site import culvert as site
from overbank.site.barrel_parts import Joined
from overbank.study.collect import Collected, Follower
from overbank.study.elements.asked import AskedOfCulvert
from overbank.study.elements.barrel_parts import (
    fill_parts,
    impossible_parts,
    impossible_shape,
    shape_of,
    too_adverse,
)
from overbank.study.elements.element import Element, fill_asked
from overbank.study.elements.extents import Extent, Reader, out_of_order, remedy
from overbank.study.elements.inlets import AnyInlet, Inlet, TaperedInlet, unknown_edges
from overbank.study.elements.outlets import Flap, OutletScreen
from overbank.study.elements.people import People, Persons, Raking
from overbank.study.elements.profiles import RoadOver, RoadProfile, crest_line, fill_profile, lowest_of_profile
from overbank.study.patterns import Blockage, Pattern, may_be
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.plain import Text, Truth
from overbank.study.reading.refusals import LocatedRefusal, choose, list_of, refusal, shown
from overbank.study.reading.table import Table
from overbank.study.sections import AnyBarrel, Bar, Gap, Level, Size, Width
from overbank.study.traced import fill_traced, site_shape

BAR_SHAPE = "rectangle"
OVERFLOW_COEFFICIENT = 1.7
MANY = {2: "both", 3: "all three"}


def bar_shapes() -> dict[str, dict[str, str]]:
    """Rows of the table of bar shapes that suit the clean-screen formula, by their word."""
    return {row["bar_shape"]: dict(row) for row in read_table("bar_shapes") if row["formula"] == "kirschmer"}


class Bypass(Table):
    """An open way beside the bars to the same barrels: a bypass from its sill upwards, or an emergency overflow."""

    width_m: Width = Field(description="the clear width of the way beside the bars, across the flow [m]")
    sill_level_m: Level | None = Field(None, description="the level from which water passes beside the bars [m]")
    coefficient: Annotated[Number, number_from(1.0, 2.2, "a weir coefficient [m^0.5/s]")] = default(
        1.7, "a broad crest in critical flow, (2/3)^1.5 g^0.5 = 1.705, rounded"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {"sill_level_m": "the sill of the screen"}


class Screen(Table):
    """Bars before the inlet. Its height is upright, from its sill."""

    width_m: Width = Field(description="the width of the screen across the flow [m]")
    height_m: Size = Field(description="the upright height of the screen above its sill [m]")
    bar_m: Bar = Field(description="the thickness of a bar across the flow [m]")
    gap_m: Gap = Field(description="the clear gap between bars [m]")
    inclination_deg: Annotated[Number, number_from(10.0, 90.0, "an angle [deg]")] = default(
        90.0,
        "the screen stands upright",
        "the angle of the screen above the horizontal [deg]",
    )
    bar_shape: Text | None = Field(None, description="the shape of the bars, a word of the table of bar shapes")
    shape_factor: Annotated[Number, number_from(0.5, 4.0, "a shape factor")] | None = Field(
        None, description="the shape factor of the bars"
    )
    blockage: Blockage | None = Field(None, description="the blocked share of the clear opening, from 0 to 1")
    debris_m2: Annotated[Number, number_from(0.0, 10_000.0, "an area of debris [m2]")] | None = Field(
        None, description="the area of the bars, along them, that debris covers [m2]"
    )
    debris_m3: Annotated[Number, number_from(0.0, 10_000.0, "a volume of debris [m3]")] | None = Field(
        None, description="the volume of debris that lies on the bars [m3]"
    )
    debris_thickness_m: Annotated[Number, number_from(0.01, 5.0, "a thickness [m]")] | None = Field(
        None, description="the thickness of the debris on the bars [m]"
    )
    pattern: Pattern = default(0.0, "uniform: the debris is spread over the whole screen", "where the debris sits")
    sill_level_m: Level | None = Field(None, description="the level of the foot of the bars [m]")
    overflow: Truth = Field(True, description="true or false: can water pass over the top")
    overflow_coefficient: Annotated[Number, number_from(1.0, 2.2, "a weir coefficient [m^0.5/s]")] | None = Field(
        None, description="the weir coefficient of the top of the screen [m^0.5/s]"
    )
    bypass: Bypass | None = None
    raking: Raking | None = None

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "bypass": "no way beside the bars",
        "bar_shape": "rectangle, unless a shape_factor is given",
        "shape_factor": "that of the bar shape",
        "blockage": "needed, or debris_m2, or debris_m3",
        "debris_m2": "needed, or blockage, or debris_m3",
        "debris_m3": "needed, or blockage, or debris_m2",
        "debris_thickness_m": "needed with debris_m3",
        "sill_level_m": "the upstream invert of the barrel",
        "overflow_coefficient": "1.7; none where overflow = false",
        "raking": "nothing is told of it",
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        shape, shapes = raw.get("bar_shape"), tuple(bar_shapes())
        if shape is not None and "shape_factor" in raw:
            remedy = "Keep one: the factor belongs to the shape."
            yield ("shape_factor",), refusal("bar_shape or shape_factor", "both", remedy)
        if isinstance(shape, str) and shape not in shapes:
            yield ("bar_shape",), refusal(list_of(shapes), shown(shape), choose(shape, shapes))
        given = [key for key in ("blockage", "debris_m2", "debris_m3") if key in raw]
        if len(given) != 1:
            found, remedy = (MANY[len(given)], "Keep one.") if given else ("nothing", "Add blockage = ... here.")
            yield ("blockage",), refusal("a blocked share from 0 to 1, or debris_m2, or debris_m3", found, remedy)
        if ("debris_thickness_m" in raw) != ("debris_m3" in raw):
            found = "one alone"
            yield ("debris_m3",), refusal("debris_m3 and debris_thickness_m together", found, "Add the other one.")
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
    pattern: Pattern = default(0.0, "no pattern given: uniform", "where the debris sits")

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        yield from unknown_edges(raw)
        barrel = raw.get("barrel")
        if isinstance(barrel, dict) and "part" in barrel:
            remedy = "Take the parts out, or make these the main barrels."
            yield ("barrel", "part"), refusal("relief barrels of one part", "parts", remedy)

    def build(self) -> site.Group:
        """The group of barrels."""
        return site.Group(site_shape(self.barrel), inlets()[self.barrel.shape, self.inlet.edge])


class Culvert(Element):
    """Barrels with an inlet; a screen before them, relief barrels beside them, a road over all, if there are any."""

    kind: Literal["culvert"]
    barrel: AnyBarrel = Field(description="a table with the keys shape, length_m, ...")
    inlet: AnyInlet = Field(description="a table with the key edge")
    screen: Screen | None = None
    relief: Relief | None = None
    flap: Flap | None = None
    outlet_screen: OutletScreen | None = None
    road: RoadOver | None = None
    blockage: Blockage | None = Field(None, description="the blocked share of the barrel, from 0 to 1")
    pattern: Pattern | None = Field(None, description="the pattern of the blockage")
    silt: Blockage | None = Field(
        None,
        description="the share of the area of the barrels, along all their length, that silt fills behind a screen",
    )
    asked: AskedOfCulvert | None = None
    people: People | None = None
    bank_level_m: Level | None = Field(None, description="the level at which the water leaves its banks [m]")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "screen": "no screen",
        "relief": "no relief barrels",
        "flap": "no flap valve",
        "outlet_screen": "no bars at the outlet",
        "road": "no road: no water passes over the top",
        "blockage": "clean",
        "pattern": "uniform",
        "silt": "none",
        "asked": "the defaults of its keys",
        "people": "the defaults of its keys",
    }

    NAMES: ClassVar[Mapping[str, tuple[str, str]]] = {
        "bed_manning_n": ("Manning's n of the bed", "s/m^(1/3)"),
        "silt_manning_n": ("Manning's n of silt", "s/m^(1/3)"),
        "head_factor": ("factor on the inlet head", ""),
        "entrance_loss": ("entrance loss coefficient", ""),
        "exit_loss": ("exit loss coefficient", ""),
        "shape_factor": ("shape factor of the bars", ""),
        "bar_m": ("thickness of a bar", "m"),
        "gap_m": ("clear gap between bars", "m"),
        "debris_m2": ("area of debris on the bars", "m²"),
        "debris_m3": ("volume of debris on the bars", "m³"),
        "debris_thickness_m": ("thickness of the debris on the bars", "m"),
        "loss": ("loss coefficient of the flap", ""),
        "shut": ("share of the mouth that a stuck flap shuts", ""),
        "silt": ("share of the barrels filled with silt", ""),
        "overflow_coefficient": ("weir coefficient of its top", "m^0.5/s"),
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        yield from unknown_edges(raw)
        for key in ("blockage", "pattern"):
            if key in raw and "screen" in raw:
                expected = f"{key} on the screen, which catches the debris"
                yield (key,), refusal(expected, "one on the culvert", f"Write it as screen.{key} only.")
        if "silt" in raw and "screen" not in raw:
            remedy = 'Write it as blockage, with pattern = "bottom_up".'
            yield ("silt",), refusal("silt only behind a screen", "silt without one", remedy)
        if "pattern" in raw and "blockage" not in raw and "screen" not in raw:
            fault = refusal("pattern only beside a blockage", "one without", "Add blockage = ... here.")
            yield ("pattern",), fault
        asked = raw.get("asked")
        if isinstance(asked, dict) and "screen_area_ratio" in asked and "screen" not in raw:
            fault = refusal("screen_area_ratio only of a culvert with a screen", "one without", "Remove it.")
            yield ("asked", "screen_area_ratio"), fault

    def fill(self, collected: Collected, below: Element | None) -> None:  # noqa: ARG002
        path, inlet = self.id, self.inlet
        _fill_barrels(collected, self, path)
        fill_parts(collected, self.barrel.part, f"{path}.barrel")
        if self.relief is not None:
            _fill_barrels(collected, self.relief, f"{path}.relief")
        if isinstance(inlet, TaperedInlet) and inlet.face.invert_level_m is None:
            collected.follow(Follower(f"{path}.inlet.face.invert_level_m", f"{path}.barrel.upstream_invert_m"))
        if isinstance(self.road, RoadProfile):
            fill_profile(collected, self.road.profile, f"{path}.road", "length_m")
        fill_asked(collected, path, self.asked, "freeboard_to_soffit_m")
        if self.screen is not None:
            _fill_screen(collected, self.screen, path)
            fill_asked(collected, path, self.asked, "screen_area_ratio")
            return
        if self.blockage is None:
            collected.add(f"{path}.blockage", Number(0.0, basis="no blockage given: clean", assumed=True))
        if self.pattern is None:
            collected.add(f"{path}.pattern", Number(0.0, basis="no pattern given: uniform", assumed=True))

    def bed_above(self) -> tuple[str, tuple[str, ...]]:
        return f"{self.id}.barrel.upstream_invert_m", ()

    def bed_below(self) -> str:
        parts = len(self.barrel.part)
        return (
            f"{self.id}.barrel.part_{parts}.downstream_invert_m" if parts else f"{self.id}.barrel.downstream_invert_m"
        )

    def build(self, above: Element | None) -> site.Culvert:
        shape, inlet = self.barrel.shape, self.inlet
        edge, face = (inlet.throat, inlet.face.edge) if isinstance(inlet, TaperedInlet) else (inlet.edge, None)
        return site.Culvert(
            id=self.id,
            shape=site_shape(self.barrel),
            inlet=inlets()[shape, edge],
            has_screen=self.screen is not None,
            has_road=self.road is not None,
            face=inlets()[shape, face] if face is not None else None,
            relief=self.relief.build() if self.relief is not None else None,
            approach=above.foot if above is not None else None,
            has_flap=self.flap is not None,
            has_outlet_screen=self.outlet_screen is not None,
            road_line=crest_line(self.road.profile) if isinstance(self.road, RoadProfile) else None,
            joined=tuple(Joined(site_shape(part), part.joint or "") for part in self.barrel.part),
        )

    def persons(self) -> Persons | None:
        raking = self.screen.raking if self.screen is not None else None
        return Persons.of(self.people, raking, self.screen is not None)

    @classmethod
    def impossible(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Iterator[LocatedRefusal]:  # noqa: ARG003
        """Barrels that rise downstream, banks, roads and sills out of order, faces that are too narrow."""
        inlet = reader.get("inlet invert", "barrel", "upstream_invert_m")
        yield from reader.order(("bank_level_m",), "bank", inlet, "a bank above the inlet invert")
        relief = raw.get("relief")
        yield from _barrels(reader, shape_of(raw.get("barrel")), "barrel")
        yield from impossible_parts(reader, raw)
        beside = relief.get("barrel") if isinstance(relief, dict) else None
        yield from _barrels(reader, shape_of(beside), "relief", "barrel")
        yield from _face(reader, inlet)
        yield from _screen(reader, inlet)
        lowest = lowest_of_profile(reader, raw.get("road"), ("road",), "profile")
        if lowest and inlet and (wrong := out_of_order(lowest, inlet)):
            yield (*reader.path, "road", "profile"), refusal("a road above the inlet invert", wrong, remedy(wrong))

    @classmethod
    def top(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Extent | None:  # noqa: ARG003
        return reader.get("bed", "barrel", "upstream_invert_m")


def _barrels(reader: Reader, shape: str, *table: str) -> Iterator[LocatedRefusal]:
    """A group of barrels that rises too much downstream, lies above the road, or has a shape that cannot be."""
    inlet = reader.get("inlet invert", *table, "upstream_invert_m")
    yield from too_adverse(reader, inlet, *table)
    yield from reader.order(("road", "level_m"), "road", inlet, "a road above the inlet invert")
    yield from impossible_shape(reader, shape, *table)


def _face(reader: Reader, inlet: Extent | None) -> Iterator[LocatedRefusal]:
    """The face of a tapered entrance: below the throat, or narrower than the barrel."""
    foot, width = reader.get("face", "inlet", "face", "invert_level_m"), reader.get("face", "inlet", "face", "width_m")
    if foot and inlet and (wrong := out_of_order(foot, inlet, equal=True)):
        fault = refusal("a face whose bed is not below the inlet invert", wrong, remedy(wrong))
        yield (*reader.path, "inlet", "face", "invert_level_m"), fault
    span = reader.any_of("span", "barrel", "span_m", "diameter_m")
    if width and span and (wrong := out_of_order(width, span[1], equal=True)):
        fault = refusal("a face that is not narrower than the barrel", wrong, remedy(wrong))
        yield (*reader.path, "inlet", "face", "width_m"), fault


def _screen(reader: Reader, inlet: Extent | None) -> Iterator[LocatedRefusal]:
    path = (*reader.path, "screen", "sill_level_m")
    sill, height = reader.get("sill", "screen", "sill_level_m"), reader.get("height", "screen", "height_m")
    if not sill:
        return
    beside = reader.get("sill beside it", "screen", "bypass", "sill_level_m")
    if beside and (wrong := out_of_order(beside, sill, equal=True)):
        fault = refusal("a way beside the bars that does not begin below their sill", wrong, remedy(wrong))
        yield (*reader.path, "screen", "bypass", "sill_level_m"), fault
    for keys, words in ((("bank_level_m",), "bank"), (("road", "level_m"), "road")):
        above = reader.get(words, *keys)
        if above and (wrong := out_of_order(above, sill)):
            yield path, refusal(f"a sill below the {words}", wrong, remedy(wrong))
    if height and inlet:
        top = sill.plus("top of the screen", height)
        if wrong := out_of_order(top, inlet):
            yield path, refusal("a screen whose top is above the inlet invert", wrong, remedy(wrong))


def _fill_barrels(collected: Collected, group: Culvert | Relief, path: str) -> None:
    """What a group of barrels leaves out."""
    inlet = group.inlet
    fill_traced(collected, group.barrel, f"{path}.barrel")
    if group.barrel.bed_manning_n is None:
        collected.follow(Follower(f"{path}.barrel.bed_manning_n", f"{path}.barrel.manning_n"))
    if group.barrel.silt_manning_n is None and _may_silt(group):
        basis = "a natural or gravel bed in a barrel, 0.03 to 0.05: FHWA HDS-5 (2001), p. 222 (read in the source)"
        collected.add(f"{path}.barrel.silt_manning_n", Number(SILT_MANNING_N, basis=basis, assumed=True))
    if inlet.entrance_loss is None:
        entry = inlets()[group.barrel.shape, inlet.throat if isinstance(inlet, TaperedInlet) else inlet.edge]
        basis = f"{entry.entrance_loss_source} ({entry.entrance_loss_how_known})"
        loss = Number(entry.entrance_loss, basis=basis, assumed=True)
        collected.add(f"{path}.inlet.entrance_loss", loss)


def _may_silt(group: Culvert | Relief) -> bool:
    if isinstance(group, Culvert) and group.silt is not None:
        return True
    return group.pattern is not None and may_be(group.pattern, "bottom_up")


def _fill_screen(collected: Collected, screen: Screen, path: str) -> None:
    if screen.shape_factor is None:
        shape = screen.bar_shape or BAR_SHAPE
        row = bar_shapes()[shape]
        basis = f"bars of the shape {shape}: {row['source']} ({row['how_known']})"
        factor = Number(float(row["shape_factor"]), basis=basis, assumed=screen.bar_shape is None)
        collected.add(f"{path}.screen.shape_factor", factor)
    if screen.sill_level_m is None:
        collected.follow(Follower(f"{path}.screen.sill_level_m", f"{path}.barrel.upstream_invert_m"))
    if screen.bypass is not None and screen.bypass.sill_level_m is None:
        collected.follow(Follower(f"{path}.screen.bypass.sill_level_m", f"{path}.screen.sill_level_m"))
    if screen.overflow_coefficient is None:
        coefficient = Number(0.0, basis="overflow = false: there is no way over the screen")
        if screen.overflow:
            basis = "a broad crest in critical flow, (2/3)^1.5 g^0.5 = 1.705, rounded"
            coefficient = Number(OVERFLOW_COEFFICIENT, basis=basis, assumed=True)
        collected.add(f"{path}.screen.overflow_coefficient", coefficient)
