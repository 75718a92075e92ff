"""A bridge of any number of groups of openings, square or skewed, with debris and flow over its deck."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import ClassVar

import numpy as np

from overbank.hydraulics import bridges, rows, surveyed_rows
from overbank.hydraulics.columns import Parts, columns
from overbank.hydraulics.oblique import skewed_share
from overbank.site import bridge_people
from overbank.site.across import Across
from overbank.site.crest_line import WALLS, CrestLine
from overbank.site.cross_section import FROM_ABOVE, Crest, CrossSection, crest_of, laid_out, middle_of
from overbank.site.design_checks import DesignCheck, against
from overbank.site.long_section import DRAWN_LENGTH, Outline, drawn_numbers
from overbank.site.numbers import Array, Column, Numbers, Results, Water, run_named
from overbank.site.openings import Group, Strips
from overbank.site.people import AtStructure, Bodies
from overbank.site.sections import Shape, approach_parts
from overbank.site.structure import Drawn, Figure, Said, Solved
from overbank.site.surveyed import SurveyedSection
from overbank.site.validity import thin

REGIMES = {
    bridges.FREE: "free surface in the openings",
    bridges.CHOKED: "openings choked, critical flow in them",
    bridges.SLUICE: "soffit drowned upstream, free below",
    bridges.ORIFICE: "openings drowned on both sides",
    bridges.SLUICE_DROWNED: "openings drowned on both sides; level by the jet below the soffit, the higher of the two",
    bridges.SHUT_BRIDGE: "no way through the openings",
}
"""What governs the openings."""

OVER_DECK = "; flow over the deck or its approaches"

SHARED_NUMBERS = {
    "expansion": "expansion_loss",
    "afflux_factor": "afflux_factor",
    "blockage": "blockage",
    "pattern": "pattern",
}
"""Numbers of `hydraulics.rows.BridgeNumbers` that a skew leaves alone, as the study calls them."""

GROUPS = ("opening", "side_opening")
"""Where the numbers of the first two groups stand."""

LOG_FROM = 9.0
"""A design log is as long as this and a quarter of the channel's width, or as the channel is wide, the lesser [m]
(T. H. Diehl, 1997, FHWA-RD-97-028; from memory, unverified)."""

PIERS_TAKE = (0.05, 0.5)
"""Share of the channel that piers take, to which Yarnell's formula holds (from memory, unverified)."""

LEAST_FACTOR = 0.05
"""Piers across the flow never close a span further than to this share of it."""


@dataclass(frozen=True)
class Bridge(Across):
    """A bridge; every option says only which numbers it has.

    shapes : of the main openings and, if there are any, of the side openings: box (flat soffit), arch, pipe, ellipse,
        surveyed or points
    approach_shape : of the channel on both sides: rectangle, trapezoid or surveyed
    spans_along_road : the spans are lengths along the road, to be projected once on to the flow
    piers_square_to_road : the piers do not follow the flow, so that a skew narrows the openings by their length too
    survey : the surveyed section of the channel, if it is one
    has_raft : rafts of debris hang before the piers of the main openings
    shaped_piers : its losses are those of the shape of its piers
    road_line, deck_line : the profiles of an approach road and of a deck that are not level
    beds : strips of the beds of the main and the side openings, empty for level ones; further : more groups of openings
    """

    id: str
    shapes: tuple[Shape, ...]
    approach_shape: str
    spans_along_road: bool
    piers_square_to_road: bool
    has_deck: bool
    has_approach_road: bool
    survey: SurveyedSection | None = None
    has_raft: bool = False
    shaped_piers: bool = False
    road_line: CrestLine | None = None
    beds: tuple[Strips, ...] = ()
    further: tuple[Group, ...] = ()
    deck_line: CrestLine | None = None
    kind: ClassVar[str] = "bridge"

    figures: ClassVar[tuple[Figure, ...]] = (
        Figure("velocity", "velocity_m_s", "velocity {:.1f} m/s"),
        Figure("deck_flow", "deck_flow_m3_s", "over the deck {:.3g} m³/s"),
        Figure("air_gap", "air_gap_m", "air gap to the soffit {:.2f} m"),
        Figure("afflux", "afflux_m", "afflux {:.2f} m"),
        Figure("opening_flow", "opening_flow_m3_s"),
        Figure("alpha", "energy_coefficient"),
    )

    def headwater(self, flow: Array, tailwater: Water, numbers: Numbers) -> Water:
        return Water.of(self.solve(flow, tailwater, numbers))

    def solve(self, flow: Array, tailwater: Water, numbers: Numbers) -> Results:
        laid = self.laid(flow, tailwater, numbers)
        line, deck = (None if each is None else each.points for each in (self.road_line, self.deck_line))
        if self.survey is None:
            simple = partial(rows.lined_bridge_states, line, deck)
            return run_named(simple, bridges.Bridged._fields, laid, len(flow))
        loop = partial(surveyed_rows.surveyed_bridge_states, self.survey.table, line, deck)
        laid = [*self.survey.columns(numbers, self.approach), *laid]
        return run_named(loop, (*bridges.Bridged._fields, *surveyed_rows.ALPHA), laid, len(flow))

    def laid(self, flow: Array, tailwater: Water, numbers: Numbers) -> list[Column]:
        """The columns that the loop takes: those of `hydraulics.rows.BridgeRow`, then those of further openings."""
        parts = {"bridge": self._parts(numbers), "deck": self._deck(numbers)}
        laid = columns(rows.BridgeRow, {**parts, "flow": flow, "tailwater": tailwater.level})
        for group in self._further:
            laid += group.laid(numbers, self.id, self._factor(numbers, group))
        return laid

    def _parts(self, numbers: Numbers) -> Parts:
        """The numbers of `hydraulics.rows.BridgeNumbers`."""
        return {
            **dict(zip(("main", "side"), self._first(numbers), strict=True)),
            "approach": approach_parts(numbers, self.approach, self.approach_shape),
            "approach_bed": numbers[f"{self.approach}.bed_level_m"],
            **self._raft(numbers),
            **self.coefficients(numbers),
            **{name: numbers[f"{self.id}.{key}"] for name, key in SHARED_NUMBERS.items()},
        }

    @property
    def groups(self) -> tuple[Group, ...]:
        """Every group of openings, the main ones first."""
        beds = (*self.beds, (), ())
        own = (Group(*each) for each in zip(GROUPS, self.shapes, beds, strict=False))
        return (*own, *self.further)

    @property
    def _pair(self) -> tuple[Group, ...]:
        """Main and side openings of a level bed: they have places of their own in the loop."""
        return tuple(group for group in self.groups if group.name in GROUPS and not group.strips)

    def _factor(self, numbers: Numbers, group: Group) -> Column:
        return self.width_factor(numbers, f"{self.id}.{group.name}", group.shape)

    @property
    def _further(self) -> tuple[Group, ...]:
        return tuple(group for group in self.groups if group not in self._pair)

    def _first(self, numbers: Numbers) -> list[Parts | None]:
        """The numbers of the main openings, those that rafts lie before, and of a second group."""
        pair = {group.name: group.openings(numbers, self.id, self._factor(numbers, group)) for group in self._pair}
        return [pair.get(name) for name in GROUPS]

    def _raft(self, numbers: Numbers) -> dict[str, Column]:
        """Share of the width of the main openings that rafts on piers stand before [-], and their depth [m]."""
        if not self.has_raft:
            return {"raft_share": 0.0, "raft_depth": 0.0}
        share: Column = np.minimum(self._raft_width(numbers) / self._main_width(numbers), 1.0)
        return {"raft_share": share, "raft_depth": numbers[f"{self.id}.pier_raft.raft_depth_m"]}

    def _raft_width(self, numbers: Numbers) -> Column:
        return numbers[f"{self.id}.pier_raft.count"] * numbers[f"{self.id}.pier_raft.raft_width_m"]

    def _main_width(self, numbers: Numbers) -> Column:
        """Width of the main openings together, square to the flow [m]."""
        main = self.groups[0]
        count = numbers[f"{self.id}.{main.name}.count"]
        return count * main.span(numbers, self.id) * self._factor(numbers, main)

    def _of_raft(self, solved: Solved) -> Said:
        """Where a raft is wider or deeper than those that were seen."""
        numbers, samples = solved.numbers, len(solved.level)
        width, depth = (numbers[f"{self.id}.pier_raft.raft_{key}_m"] for key in ("width", "depth"))
        channel = numbers.get(f"{self.approach}.section.width_m", numbers.get(f"{self.approach}.section.bed_width_m"))
        if channel is not None:
            longest = np.minimum(channel, LOG_FROM + channel / 4.0)
            wide = np.broadcast_to(np.asarray(width > longest), (samples,))
            yield "raft on a pier wider than the design log, 9 m and a quarter of the channel (from memory)", wide
        filled = np.asarray(self._raft_width(numbers) >= self._main_width(numbers))
        yield "rafts from pier to pier: no clear way beside them", np.broadcast_to(filled, (samples,))
        grown = depth > solved.tailwater - numbers[f"{self.id}.opening.bed_level_m"]
        yield "raft as deep as the water below: it reaches down to the bed", np.broadcast_to(grown, (samples,))

    def coefficients(self, numbers: Numbers) -> dict[str, Column]:
        """Loss of contraction, sluice and orifice coefficient: each so that a skew costs its share of the flow.

        The head of a contracted stream is 1 + Cc velocity heads, so 1 + Cc goes with one over the share squared. An
        opening that contracts nothing loses nothing, whatever the skew.
        """
        share = skewed_share(numbers[f"{self.id}.skew.angle_deg"])
        return {
            "contraction": (1.0 + numbers[f"{self.id}.contraction_loss"]) / (share * share) - 1.0,
            "sluice": numbers[f"{self.id}.sluice_coefficient"] * share,
            "orifice": numbers[f"{self.id}.orifice_coefficient"] * share,
        }

    def _deck(self, numbers: Numbers) -> Parts:
        """The numbers of `hydraulics.bridges.Deck`."""
        found: dict[str, Column] = {}
        for prefix, crest, there in (
            ("", "deck", self.has_deck),
            ("approach_", "approach_road", self.has_approach_road),
        ):
            path = f"{self.id}.{crest}"
            for name, key in (("level", "level_m"), ("length", "length_m"), ("coefficient", "coefficient")):
                found[f"{prefix}{name}"] = numbers[f"{path}.{key}"] if there else 0.0
        return found

    def width_factor(self, numbers: Numbers, path: str, shape: Shape) -> Column:
        """What is left of a span across the flow: projected once, less its share of skewed piers.

        Between all spans of the crossing stand one fewer piers, each of which takes its length times sin(skew).
        """
        angle = np.radians(numbers[f"{self.id}.skew.angle_deg"])
        projected = np.cos(angle) if self.spans_along_road else np.ones_like(angle)
        if self.piers_square_to_road:
            span = numbers[f"{path}.{'diameter_m' if shape == 'pipe' else 'span_m'}"]
            spans = sum(numbers[f"{self.id}.{group.name}.count"] for group in self.groups)
            piers_a_span = 1.0 - 1.0 / spans
            projected = projected - piers_a_span * numbers[f"{self.id}.skew.pier_length_m"] * np.sin(angle) / span
        factor: Array = np.maximum(projected, LEAST_FACTOR)
        return factor

    def states(self, results: Results) -> dict[str, Array]:
        over = np.where(np.isnan(results["regime"]), np.nan, results["deck_flow"] > 0.0)
        return {"over_deck": over, "regime": results["regime"]}

    def governs(self, state: Mapping[str, float]) -> str:
        return REGIMES[int(state["regime"])] + (OVER_DECK if state["over_deck"] else "")

    def remarks(self, solved: Solved) -> Said:
        control = solved.results["regime"]
        yield from self.above_survey(solved)
        yield "openings choked: they pass the flow at its least energy", control == bridges.CHOKED
        yield (
            "water at the soffit: pressure formulas blended in, judged good to 10 to 30 % of the flow",
            np.isin(control, (bridges.SLUICE, bridges.ORIFICE, bridges.SLUICE_DROWNED)),
        )
        ratio = solved.results["opening_ratio"]
        yield "openings larger than the channel at the level below: nothing is contracted", ratio > 1.0
        if self.has_raft:
            yield from self._of_raft(solved)
        if self.shaped_piers:
            low, high = PIERS_TAKE
            outside = (ratio > 1.0 - low) | (ratio < 1.0 - high)
            yield (
                f"openings leave out less than {low:g} or more than {high:g} of the channel: not Yarnell's piers",
                outside,
            )
        yield "no way through the openings", control == bridges.SHUT_BRIDGE
        for crest, there in (("deck", self.has_deck), ("approach_road", self.has_approach_road)):
            if there:
                head = solved.level - solved.numbers[f"{self.id}.{crest}.level_m"]
                yield thin(crest.replace("_", " "), head, head > 0.0)
        for crest, line in (("approach_road", self.road_line), ("deck", self.deck_line)):
            if line is not None:
                head = solved.level - solved.numbers[f"{self.id}.{crest}.level_m"]
                yield WALLS.format(crest.replace("_", " ")), line.over_an_end(head)

    def across(self, numbers: Numbers, top: float) -> CrossSection:
        ground, zones = self.ground(numbers, top)
        number = drawn_numbers(self.id, numbers)
        each: list[tuple[Group, float]] = []
        for group in self.groups:
            share = float(np.asarray(self._factor(numbers, group)))
            each += [(group, share)] * round(number(f"{group.name}.count"))
        widths = [share * float(np.asarray(group.span(numbers, self.id))) for group, share in each]
        lowest = min(level for _, level in ground)
        at, wet = middle_of(ground, lowest + 0.01), CrossSection("", ground).wet(lowest + 0.01)
        middles = laid_out(widths, wet[-1][1] - wet[0][0], at)
        openings = tuple(
            group.drawn(numbers, self.id, middle, share) for (group, share), middle in zip(each, middles, strict=True)
        )
        crests = self._crests(number, at)
        return CrossSection(FROM_ABOVE, ground, zones, openings, crests, turned=number("skew.angle_deg"))

    def _crests(self, number: Drawn, middle: float) -> tuple[Crest, ...]:
        """The deck over the openings, and the road beside it on the right."""
        found, edge = [], middle
        if self.has_deck:
            level, length = number("deck.level_m"), number("deck.length_m")
            found.append(crest_of("deck", level, length, self.deck_line, middle))
            edge += 0.5 * length
        if self.has_approach_road:
            level, length = number("approach_road.level_m"), number("approach_road.length_m")
            found.append(crest_of("road beside it", level, length, self.road_line, edge + 0.5 * length))
        return tuple(found)

    def outline(self, number: Drawn, start: float) -> Outline:
        bed, end = number("approach.bed_level_m"), start + DRAWN_LENGTH
        roof = number("opening.bed_level_m") + number(
            f"opening.{'diameter_m' if self.shapes[0] == 'pipe' else 'rise_m'}"
        )
        return Outline(
            *(self.id, self.kind, start, end, bed, bed, roof, roof),
            road=number("deck.level_m"),
            crest="deck",
            bank=number("bank_level_m"),
            hides_water=True,
        )

    def people(self, solved: Solved, _bodies: Bodies) -> AtStructure | None:
        return bridge_people.at_bridge(self, solved)

    def design_checks(self, solved: Solved) -> tuple[DesignCheck, ...]:
        words, gap = "free height from the water upstream to the soffit", solved.results["air_gap"]
        return (against(self.id, "air_gap_m", words, "air_gap_m", solved.numbers, gap),)
