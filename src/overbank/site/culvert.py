"""A culvert: barrels, a tapered entrance, a screen, relief barrels and a road over all, in one balance."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from math import isinf, radians, tan
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from overbank._jit import run_rows
from overbank.hydraulics import clean_screens, crossing, rows, tapered
from overbank.hydraulics.columns import Parts, columns
from overbank.hydraulics.culverts import LIMITS
from overbank.hydraulics.screens import BOTTOM_UP
from overbank.hydraulics.sections import SILT_MANNING_N
from overbank.hydraulics.tables import InletEntry
from overbank.site import bars, culvert_checks, culvert_people, outlets
from overbank.site.barrel_parts import InParts, Joined, rise_of
from overbank.site.crest_line import WALLS, CrestLine
from overbank.site.cross_section import Crest, CrossSection, Line, crest_of, laid_out, rectangle, ring
from overbank.site.design_checks import DesignCheck, Filling
from overbank.site.long_section import Outline, Station, drawn_numbers
from overbank.site.numbers import Array, Column, Numbers, Results, Water, flow_of, run_named, spread
from overbank.site.people import AtStructure, Bodies
from overbank.site.sections import Shape, barrel_parts, certain_section, channel_parts, opening_parts
from overbank.site.structure import Corner, Drawn, Figure, Published, Said, Solved, Structure
from overbank.site.validity import thin

CONTROLS = {
    crossing.INLET_FREE: "inlet control, inlet not drowned",
    crossing.INLET_DROWNED: "inlet control, inlet drowned",
    crossing.FACE_FREE: "face control, face not drowned",
    crossing.FACE_DROWNED: "face control, face drowned",
    crossing.OUTLET_FREE_SURFACE: "outlet control, free surface in the barrel",
    crossing.OUTLET_PART_FULL: "outlet control, barrel full over part of its length",
    crossing.OUTLET_FULL: "outlet control, barrel full",
    crossing.NO_WAY_THROUGH: "no way through",
}
"""What governs the barrels."""

THROUGH_RELIEF = "part of the flow through the relief barrels"
OVER_ROAD = {0: "", 1: "flow over the road", 2: "flow over the road, drowned from below"}
OVER_SCREEN = "flow over the top of the screen"


UNTESTED = "inlet never tested with a barrel of this shape: the constants of another stand in"


def inlet_row(entry: InletEntry) -> dict[str, Column]:
    """The numbers of `hydraulics.culverts.InletRow`."""
    own = {"K": entry.K, "M": entry.M, "c": entry.c, "Y": entry.Y}
    return {"form": float(entry.form), **own, "slope_factor": entry.slope_factor}


def filling(numbers: Numbers, path: str) -> dict[str, Column]:
    """What closes the barrels whose numbers stand under a path, and how: silt, or debris where no screen catches it."""
    if f"{path}.silt" in numbers:
        return {"blockage": numbers[f"{path}.silt"], "pattern": float(BOTTOM_UP)}
    return {"blockage": numbers.get(f"{path}.blockage", 0.0), "pattern": numbers.get(f"{path}.pattern", 0.0)}


@dataclass(frozen=True)
class Group:
    """Like barrels side by side with their inlets; its numbers stand under a dotted path."""

    shape: Shape
    inlet: InletEntry

    def parts(
        self, numbers: Numbers, path: str, ends: Parts, face: Parts | None = None, outlet_loss: Column = 0.0
    ) -> dict[str, object]:
        """The numbers of `hydraulics.crossing.Barrels`. Where a screen catches the debris, the inlets are clear."""
        barrel, inlet = f"{path}.barrel", f"{path}.inlet"
        return {
            "section": barrel_parts(numbers, barrel, self.shape),
            "row": inlet_row(self.inlet),
            "number": numbers[f"{barrel}.count"],
            "length": numbers[f"{barrel}.length_m"],
            "upstream_invert": numbers[f"{barrel}.upstream_invert_m"],
            "downstream_invert": numbers[f"{barrel}.downstream_invert_m"],
            "head_factor": numbers[f"{inlet}.head_factor"],
            "entrance_loss": numbers[f"{inlet}.entrance_loss"],
            "exit_loss": numbers[f"{inlet}.exit_loss"],
            **filling(numbers, path),
            "face": face,
            "ends": ends,
            "silt_n": numbers.get(f"{barrel}.silt_manning_n", SILT_MANNING_N),
            "outlet_loss": outlet_loss,
        }


@dataclass(frozen=True)
class Culvert:
    """Like barrels with an inlet; a screen before them, relief barrels beside them, a road over all, if there are any.

    face : of a tapered entrance, one to each barrel; `inlet` is then its throat
    relief : the relief barrels, which the screen does not protect; their numbers stand under `<id>.relief`
    approach : dotted path and shape of the open channel that brings the water, of a simple section; None for a still
        pool
    has_flap, has_outlet_screen : at the outlet of the main barrels
    road_line : the profile of a road that is not level
    joined : the parts of the main barrels below the first, whose numbers stand under `<id>.barrel.part_1` and on
    """

    id: str
    shape: Shape
    inlet: InletEntry
    has_screen: bool
    has_road: bool
    face: InletEntry | None = None
    relief: Group | None = None
    approach: tuple[str, str] | None = None
    has_flap: bool = False
    has_outlet_screen: bool = False
    road_line: CrestLine | None = None
    joined: tuple[Joined, ...] = ()
    kind: ClassVar[str] = "culvert"
    is_reach: ClassVar[bool] = False
    has_length: ClassVar[bool] = True
    spills: ClassVar[bool] = False
    figures: ClassVar[tuple[Figure, ...]] = (
        Figure("barrel_flow", "barrel_flow_m3_s", "through the barrels {:.3g} m³/s"),
        Figure("velocity_out", "barrel_outlet_velocity_m_s", "leaving them at {:.1f} m/s"),
        Figure("relief_flow", "relief_flow_m3_s", "through the relief barrels {:.3g} m³/s"),
        Figure("road_flow", "road_flow_m3_s", "over the road {:.3g} m³/s"),
        Figure("over_screen_flow", "over_screen_flow_m3_s", "over the screen {:.3g} m³/s"),
        Figure("bypass_flow", "bypass_flow_m3_s", "beside the screen {:.3g} m³/s"),
        Figure("screen_drop", "screen_drop_m", "drop across the screen {:.2f} m"),
        Figure("barrel_level", "barrel_level_m"),
        Figure("inlet_level", "inlet_control_level_m"),
        Figure("outlet_level", "outlet_control_level_m"),
        Figure("depth_in", "barrel_inlet_depth_m"),
        Figure("depth_out", "barrel_outlet_depth_m"),
        Figure("velocity_in", "barrel_inlet_velocity_m_s"),
        Figure("screen_velocity", "screen_velocity_m_s"),
    )

    def headwater(self, flow: Array, tailwater: Water, numbers: Numbers) -> Water:
        loop = partial(rows.any_crossing_levels, *self._way())
        level, energy = run_rows(loop, self._columns(flow, tailwater, numbers), 2, len(flow))
        return Water(level, energy)

    def against_bank(self, _flow: Array, _tailwater: Water, water: Water, _numbers: Numbers) -> Array:
        return water.level

    def solve(self, flow: Array, tailwater: Water, numbers: Numbers) -> Results:
        laid = self._columns(flow, tailwater, numbers)
        loop = partial(rows.any_crossing_states, *self._way())
        found = run_named(loop, crossing.Crossed._fields, laid, len(flow))
        return {**found, "head_below": _head_below(tailwater)}

    def _way(self) -> tuple[NDArray[np.float64] | None, int | None]:
        """The line of the road, and where the numbers of further parts begin in a column."""
        line = None if self.road_line is None else self.road_line.points
        return line, rows.CROSSING if self.joined else None

    def _columns(self, flow: Array, tailwater: Water, numbers: Numbers) -> list[Column]:
        ends = self._ends(tailwater, numbers)
        parts = {
            "main": Group(self.shape, self.inlet).parts(
                numbers, self.id, ends, self._face(numbers), self.outlet_loss(numbers, len(flow))
            ),
            "relief": self.relief.parts(numbers, f"{self.id}.relief", ends) if self.relief else None,
            "screen": bars.screen_parts(numbers, f"{self.id}.screen") if self.has_screen else None,
            "road": self._road(numbers),
            "flow": flow,
            "tailwater": tailwater.level,
        }
        return columns(rows.CrossingRow, parts) + self.parts.pieces(numbers, len(flow))

    @property
    def parts(self) -> InParts:
        """The parts of the main barrels."""
        return InParts(f"{self.id}.barrel", self.shape, self.joined)

    def outlet_loss(self, numbers: Numbers, samples: int) -> Column:
        """What flap and bars at the outlet lose, on the velocity head in it [-]."""
        loss: Column = 0.0
        if self.has_flap:
            loss = loss + outlets.flap_loss(numbers, f"{self.id}.flap")
        if self.has_outlet_screen:
            loss = loss + outlets.bars_loss(self._bars_ratio(numbers, samples))
        return loss

    def _bars_ratio(self, numbers: Numbers, samples: int) -> Column:
        mouths = self.parts.full_area(numbers, samples, len(self.joined)) * numbers[f"{self.id}.barrel.count"]
        return outlets.area_ratio(numbers, f"{self.id}.outlet_screen", mouths)

    def _ends(self, tailwater: Water, numbers: Numbers) -> Parts:
        """The numbers of `hydraulics.culverts.Ends`."""
        bed: Column = 0.0
        section: Parts | None = None
        if self.approach is not None:
            path, shape = self.approach
            bed, section = numbers[f"{path}.bed_level_m"], channel_parts(numbers, path, shape)
        return {"head_below": _head_below(tailwater), "approach": section, "approach_bed": bed}

    def _face(self, numbers: Numbers) -> Parts | None:
        if self.face is None:
            return None
        path = f"{self.id}.inlet.face"
        width, height, invert = (numbers[f"{path}.{key}"] for key in ("width_m", "height_m", "invert_level_m"))
        return {"row": inlet_row(self.face), "width": width, "height": height, "invert": invert}

    def blocked(self, numbers: Numbers) -> Column:
        """Blocked share of the screen."""
        return bars.blocked(numbers, f"{self.id}.screen")

    def _road(self, numbers: Numbers) -> Parts | None:
        if not self.has_road:
            return None
        path = f"{self.id}.road"
        level, length, coefficient = (numbers[f"{path}.{key}"] for key in ("level_m", "length_m", "coefficient"))
        return {"level": level, "length": length, "coefficient": coefficient}

    def states(self, results: Results) -> dict[str, Array]:
        unknown = np.isnan(results["regime"])

        def told(met: NDArray[np.bool_] | Array) -> Array:
            return np.where(unknown, np.nan, met)

        over = np.where(results["road_flow"] > 0.0, np.where(results["road_drowned"] > 0.0, 2.0, 1.0), 0.0)
        return {
            "through_relief": told(results["relief_flow"] > 0.0),
            "over_road": told(over),
            "over_screen": told(results["over_screen_flow"] > 0.0),
            "regime": results["regime"],
        }

    def governs(self, state: Mapping[str, float]) -> str:
        words = [CONTROLS[int(state["regime"])], OVER_SCREEN if state["over_screen"] else ""]
        words += [THROUGH_RELIEF if state["through_relief"] else "", OVER_ROAD[int(state["over_road"])]]
        return "; ".join(word for word in words if word)

    def remarks(self, solved: Solved) -> Said:
        results, numbers = solved.results, solved.numbers
        control = results["regime"]
        rise = self.rise(numbers)
        low, high = LIMITS["inlet head over rise"]
        ratio = (results["inlet_level"] - numbers[f"{self.id}.barrel.upstream_invert_m"]) / rise
        by_inlet = (control == crossing.INLET_FREE) | (control == crossing.INLET_DROWNED)
        yield f"inlet control with a head below {low:g} times the rise", by_inlet & (ratio < low)
        yield f"inlet control with a head above {high:g} times the rise", by_inlet & (ratio > high)
        fall = numbers[f"{self.id}.barrel.upstream_invert_m"] - numbers[f"{self.id}.barrel.downstream_invert_m"]
        adverse = np.broadcast_to(np.asarray(fall) < 0.0, np.shape(solved.level))
        yield from self.parts.remarks(numbers, results["barrel_flow"] / numbers[f"{self.id}.barrel.count"])
        yield "barrels that rise downstream: the inlets of HDS-5 were tested on falling ones", adverse
        untested = any(not entry.verified for entry in (self.inlet, self.face) if entry is not None)
        yield UNTESTED, np.full(np.shape(solved.level), untested)
        yield "no way through the barrels", control == crossing.NO_WAY_THROUGH
        if self.face is not None:
            yield from self._of_face(self.face, rise, numbers)
        yield "tailwater above the road, which drowns it", results["road_drowned"] > 0.0
        if self.has_road:
            head = solved.level - numbers[f"{self.id}.road.level_m"]
            yield thin("road", head, results["road_flow"] > 0.0)
            if self.road_line is not None:
                yield WALLS.format("road"), self.road_line.over_an_end(head)
        samples = len(solved.level)
        open_area = self._bars_ratio(numbers, samples) if self.has_outlet_screen else None
        yield from outlets.remarks(numbers, self.id, self.has_flap, open_area, samples)
        if self.has_screen:
            top = numbers[f"{self.id}.screen.sill_level_m"] + numbers[f"{self.id}.screen.height_m"]
            yield "water over the top of the screen", np.asarray(solved.level > top)
            yield "water beside the screen: what it carries is not caught", results["bypass_flow"] > 0.0
            bar_to_gap = numbers[f"{self.id}.screen.bar_m"] / numbers[f"{self.id}.screen.gap_m"]
            what, low, high = clean_screens.LIMITS["kirschmer"]
            outside = np.broadcast_to((bar_to_gap < low) | (bar_to_gap > high), np.shape(solved.level))
            yield f"{what} of the screen outside {low:g} to {high:g}, Kirschmer's range", outside

    def _of_face(self, face: InletEntry, rise: Column, numbers: Numbers) -> Said:
        """Where a tapered entrance is not like those that were tested."""
        barrel, inlet = f"{self.id}.barrel", f"{self.id}.inlet.face"
        span = numbers.get(f"{barrel}.span_m", rise)
        drop = numbers[f"{inlet}.invert_level_m"] - numbers[f"{barrel}.upstream_invert_m"]
        each_side = np.maximum((numbers[f"{inlet}.width_m"] - span) / 2.0, 1e-9)
        values = [
            numbers[f"{inlet}.height_m"] / rise,
            numbers.get(f"{inlet}.taper_length_m", np.nan) / each_side,
            span / rise,
            drop if "side" in face.edge else np.nan,
            numbers[f"{barrel}.count"],
        ]
        for (what, (low, high)), value in zip(tapered.LIMITS.items(), values, strict=True):
            ends = f"below {low:g}" if isinf(high) else f"outside {low:g} to {high:g}"
            outside = (np.asarray(value) < low) | (np.asarray(value) > high)
            yield f"{what} {ends}, the range of the tests of HDS-5", outside

    def across(self, numbers: Numbers, _top: float) -> CrossSection:
        """Inlets, screen and road, seen from the water upstream; the ground beside them is in no study."""
        number, relief = drawn_numbers(self.id, numbers), self.relief
        groups = [("barrel", self.shape), *([("relief.barrel", relief.shape)] if relief is not None else [])]
        each = [one for one in groups for _ in range(round(number(f"{one[0]}.count")))]
        sections = [certain_section(opening_parts(numbers, f"{self.id}.{path}", shape)) for path, shape in each]
        middles = laid_out([section.width for section in sections], 0.0)
        beds = [number(f"{path}.upstream_invert_m") for path, _ in each]
        rings = tuple(ring(*one) for one in zip(sections, beds, middles, strict=True))
        crests: tuple[Crest, ...] = ()
        screen: Line = ()
        if self.has_road:
            crests = (crest_of("road", number("road.level_m"), number("road.length_m"), self.road_line, 0.0),)
        if self.has_screen:
            sill, main = number("screen.sill_level_m"), round(number("barrel.count"))
            middle = 0.5 * (middles[0] + middles[main - 1])
            screen = rectangle(number("screen.width_m"), sill, sill + number("screen.height_m"), middle)
        return CrossSection("seen from upstream", openings=rings, crests=crests, screen=screen)

    def outline(self, number: Drawn, start: float) -> Outline:
        parts = replace(self.parts, path="barrel")
        length = sum(number(f"{parts.path_of(k)}.length_m") for k in range(len(self.joined) + 1))
        end, rise = start + length, number(rise_of(self.shape, "barrel"))
        low, high = number(f"{parts.last}.downstream_invert_m"), number("barrel.upstream_invert_m")
        mouth = number(rise_of(parts.shape_of(len(self.joined)), parts.last))
        screen = None
        if self.has_screen:
            height, sill = number("screen.height_m"), number("screen.sill_level_m")
            screen = (end + height / tan(radians(number("screen.inclination_deg"))), sill), (end, sill + height)
        return Outline(
            *(self.id, self.kind, start, end, low, high, low + mouth, high + rise),
            road=number("road.level_m"),
            crest="road",
            bank=number("bank_level_m"),
            screen=screen,
            relief=self._relief_outline(number, end),
            pool=True,
        )

    def _relief_outline(self, number: Drawn, end: float) -> tuple[Corner, ...]:
        """Relief barrels, whose inlets are drawn where those of the main barrels are."""
        if self.relief is None:
            return ()
        barrel = "relief.barrel"
        low, high = number(f"{barrel}.downstream_invert_m"), number(f"{barrel}.upstream_invert_m")
        rise, start = number(rise_of(self.relief.shape, barrel)), end - number(f"{barrel}.length_m")
        return (start, low), (end, high), (end, high + rise), (start, low + rise)

    def stations(self, drawn: Outline, _tailwater: Water, solved: Solved) -> list[Station]:
        """Outlet and inlet of the barrel, then the pool."""
        found = []
        for part, invert, depth, place, bed, roof in (
            (len(self.joined), "downstream_invert_m", "depth_out", drawn.start, drawn.bed_start, drawn.roof_start),
            (0, "upstream_invert_m", "depth_in", drawn.end, drawn.bed_end, drawn.roof_end),
        ):
            silt = self.silt(solved.numbers, len(solved.level), part)
            level = solved.numbers[f"{self.parts.path_of(part)}.{invert}"] + silt + solved.results[depth]
            found.append(Station(self.id, place, bed, roof, np.nan, drawn.road, level))
        return [*found, Station(self.id, drawn.end, drawn.bed_end, np.nan, drawn.bank, np.nan, solved.level)]

    def pool(self, _numbers: Numbers, _samples: int) -> None:
        """No reach."""

    def drawing_notes(self) -> tuple[str, ...]:
        notes = []
        if self.relief is not None:
            notes.append("Relief barrels, which lie beside the others, are drawn in outline, without their water.")
        if self.joined:
            notes.append("A barrel in parts is drawn straight from its inlet to its outlet.")
        return tuple(notes)

    def bed_below(self, numbers: Numbers) -> float:
        return float(np.asarray(numbers[f"{self.parts.last}.downstream_invert_m"]))

    def bed_above(self, numbers: Numbers) -> float:
        return float(np.asarray(numbers[f"{self.id}.barrel.upstream_invert_m"]))

    def length(self, numbers: Numbers) -> float:
        return float(np.asarray(self.parts.length(numbers)))

    def absent(self, above: Structure | None, tailwater: Water, numbers: Numbers) -> tuple[Water, float]:
        """In its place the reach above it goes on down to its outlet."""
        top = self.bed_above(numbers)
        if above is None or above.spills or not above.is_reach:
            return tailwater, top
        reach, foot, length = above.id, self.bed_below(numbers), self.length(numbers)
        in_its_place = {
            f"{reach}.length_m": length,
            f"{reach}.bed_slope": (top - foot) / length,
            f"{reach}.bed_level_m": foot,
            f"{reach}.section.shift_m": numbers.get(f"{reach}.section.shift_m", 0.0)
            + foot
            - numbers[f"{reach}.bed_level_m"],
        }
        return above.headwater(flow_of(numbers, 1), tailwater, {**numbers, **in_its_place}), foot

    def published(self) -> tuple[Published, ...]:
        entries = (self.face, self.inlet, self.relief.inlet if self.relief else None)
        return tuple(_published(entry) for entry in entries if entry is not None)

    def design_checks(self, solved: Solved) -> tuple[DesignCheck, ...]:
        return tuple(culvert_checks.checks(self, solved))

    def fillings(self, solved: Solved) -> tuple[Filling, ...]:
        return tuple(culvert_checks.filling(group, part) for group, part in self.groups(solved))

    def people(self, solved: Solved, bodies: Bodies) -> AtStructure | None:
        return culvert_people.at_culvert(self, solved, bodies)

    def groups(self, solved: Solved) -> Iterator[tuple[Culvert, Solved]]:
        """The main barrels, and the relief barrels as a culvert of their own that takes their share of the flow."""
        yield self, solved
        if self.relief is None:
            return
        group = Culvert(f"{self.id}.relief", self.relief.shape, self.relief.inlet, False, False)
        flow = np.ascontiguousarray(solved.results["relief_flow"])
        below = Water(solved.tailwater, solved.tailwater + solved.results["head_below"])
        results = group.solve(flow, below, solved.numbers)
        beside = {**results, "barrel_level": solved.level}
        yield group, Solved(flow, solved.tailwater, solved.level, beside, solved.numbers)

    def rise(self, numbers: Numbers) -> Column:
        """Height of the barrels [m]."""
        return numbers[rise_of(self.shape, f"{self.id}.barrel")]

    def rooms(self, numbers: Numbers, samples: int, part: int = 0) -> Results:
        """`hydraulics.rows.Room` of a part: full area of a clean barrel and its height clear of silt."""
        return self.parts.rooms(numbers, samples, part, filling(numbers, self.id))

    def silt(self, numbers: Numbers, samples: int, part: int = 0) -> Array:
        """Height of the silt that blocks the barrels along their whole length, in one of their parts [m]."""
        height = spread(self.parts.rise(numbers, part), samples)
        return height - self.rooms(numbers, samples, part)["clear_height"]


def _head_below(tailwater: Water) -> Array:
    """Velocity head just below [m]; 0 for water that stands endlessly high."""
    stands = np.isfinite(tailwater.level)
    return np.where(stands, tailwater.energy - np.where(stands, tailwater.level, 0.0), 0.0)


def _published(row: InletEntry) -> Published:
    values = f"form {row.form}, K {row.K:g}, M {row.M:g}, c {row.c:g}, Y {row.Y:g}"
    words = f"inlet of a {row.shape} barrel: {row.edge}"
    return Published(words, values, f"{row.source} ({row.how_known})", row.verified, row.note)
