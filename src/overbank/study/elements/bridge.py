"""A bridge as a study writes it: openings in groups, skew, debris, deck and approach road."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from overbank.site import bridge as site
from overbank.site.openings import Group, strips_of
from overbank.study.collect import Collected
from overbank.study.elements.approach import RISE, SPAN, WithApproach, approach_bed, channel_width, impossible_arch
from overbank.study.elements.asked import AskedOfBridge
from overbank.study.elements.element import Element, fill_asked
from overbank.study.elements.extents import Extent, Reader, out_of_order, remedy
from overbank.study.elements.people import People, Persons
from overbank.study.elements.piers import pier_faults, with_pier_losses
from overbank.study.elements.profiles import (
    Profile,
    RoadOver,
    RoadProfile,
    Shift,
    crest_line,
    fill_profile,
    lowest_of_profile,
    profile_of,
)
from overbank.study.patterns import Blockage, Pattern
from overbank.study.reading.numbers import Number, default, number_from
from overbank.study.reading.plain import Text, one_of, whole_number
from overbank.study.reading.readable import COUNTED
from overbank.study.reading.refusals import LocatedRefusal, list_of, refusal
from overbank.study.reading.suggestions import meant
from overbank.study.reading.table import Table, chosen_by, unknown_keys, varied
from overbank.study.sections import ArchShape, BoxShape, EllipseShape, Level, PipeShape, Rise, Road
from overbank.study.surveyed import AnyApproach, Approach, SurveyedApproach
from overbank.study.traced import TracedShape, fill_traced, site_shape, traced_of

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


class SurveyedOpening(Table):
    """An opening with a flat soffit over a bed that was surveyed, or that slopes across it."""

    shape: Literal["surveyed"]
    count: Annotated[int, whole_number(1, 50)] = Field(1, description="the number of like openings")
    bed: Profile = Field(
        description="the name of a CSV file with the header offset_m,level_m, along the bed from wall to wall"
    )
    shift_m: Shift = default(0.0, "the levels of the bed as they stand")
    rise_m: Rise = Field(
        description="the clear height of the opening, from the lowest point of its bed to the soffit [m]"
    )


class TracedOpening(TracedShape, Opening):
    """An opening traced by points; bed_level_m is the level of its lowest point."""


OPENINGS: dict[str, type[Table]] = {
    "box": BoxOpening,
    "arch": ArchOpening,
    "pipe": PipeOpening,
    "ellipse": EllipseOpening,
    "surveyed": SurveyedOpening,
    "traced": TracedOpening,
}
AnyOpening = Annotated[
    BoxOpening | ArchOpening | PipeOpening | EllipseOpening | SurveyedOpening | TracedOpening,
    chosen_by("shape", OPENINGS),
]


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

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "spans": "needed where the angle is not 0",
        "pier_length_m": "needed where piers stand square to the road",
    }

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


class AnyDeck(Deck):
    """The deck of the bridge, or its parapet, as a weir."""

    @classmethod
    def variant(cls, raw: Any) -> type[Table]:
        return RoadProfile if isinstance(raw, dict) and "profile" in raw else Deck


class PierRaft(Table):
    """Rafts of debris that hang from the surface before the piers of the main openings, one to a pier."""

    count: Annotated[int, whole_number(1, 50)] = Field(1, description="the number of rafts")
    raft_width_m: Annotated[Number, number_from(0.0, 100.0, "a width [m]")] = Field(
        description="the width of one raft, square to the flow [m]"
    )
    raft_depth_m: Annotated[Number, number_from(0.0, 20.0, "a depth [m]")] = Field(
        description="the depth of a raft below the surface [m]"
    )


class Bridge(WithApproach):
    """A bridge. The bank is compared with the level just upstream."""

    kind: Literal["bridge"]
    opening: AnyOpening = Field(description="a table with the keys shape, bed_level_m, ...")
    side_opening: AnyOpening | None = Field(None, description="a second group of openings, at a level of its own")
    further_openings: list[AnyOpening] = Field(
        [], description="a list of further groups of openings, each at its level"
    )
    approach: AnyApproach = Field(description="a table with the keys section, bed_level_m")
    skew: Skew | None = None
    contraction_loss: Loss = default(
        0.3, FROM_MEMORY, "the loss on the difference of velocity heads from the channel into the openings"
    )
    expansion_loss: Loss = default(
        0.5, FROM_MEMORY, "the loss on the difference of velocity heads from the openings into the channel"
    )
    pier_shape: Text | None = Field(
        None, description="the shape of the piers, a word of the table of pier shapes, in place of the two losses"
    )
    sluice_coefficient: Annotated[Number, number_from(0.2, 0.8, "a discharge coefficient")] = default(
        0.5, TXDOT, "the discharge coefficient when the soffit is drowned upstream only"
    )
    orifice_coefficient: Annotated[Number, number_from(0.4, 1.0, "a discharge coefficient")] = default(
        0.8, TXDOT, "the discharge coefficient when the soffit is drowned on both sides"
    )
    afflux_factor: Annotated[Number, number_from(0.1, 8.0, "a factor")] = default(
        1.0,
        "the losses by energy taken as they stand",
        "what every loss at the bridge is multiplied by: the error of the method",
    )
    blockage: Blockage = default(0.0, "no blockage given: clean")
    pattern: Pattern = default(0.0, "no pattern given: uniform", "where the debris sits")
    pier_raft: PierRaft | None = None
    deck: Annotated[Deck | RoadProfile, varied(AnyDeck)] | None = None
    approach_road: RoadOver | None = Field(None, description="the road beside the bridge, as a weir")
    asked: AskedOfBridge | None = None
    people: People | None = None
    bank_level_m: Level | None = Field(None, description="the level at which the water leaves its banks [m]")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "side_opening": "no second group of openings",
        "skew": "the road is square to the flow",
        "pier_shape": "the losses as given",
        "pier_raft": "no rafts on piers",
        "deck": "no water passes over the deck",
        "approach_road": "no water passes beside the bridge",
        "asked": "the defaults of its keys",
        "people": "the defaults of its keys",
    }

    NAMES: ClassVar[Mapping[str, tuple[str, str]]] = {
        "afflux_factor": ("factor on the losses at the bridge", ""),
        "raft_width_m": ("width of a raft", "m"),
        "raft_depth_m": ("depth of a raft", "m"),
    }

    @classmethod
    def completed(cls, raw: Any) -> Any:
        return with_pier_losses(raw)

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        yield from pier_faults(raw)
        if "pattern" in raw and "blockage" not in raw:
            fault = refusal("pattern only beside a blockage", "one without", "Add blockage = ... here.")
            yield ("pattern",), fault
        if "pier_raft" in raw and "blockage" in raw:
            expected = "rafts on piers, or a blocked share of the openings"
            yield ("pier_raft",), refusal(expected, "both", "Keep one.")
        opening = raw.get("opening")
        if "pier_raft" in raw and isinstance(opening, dict) and opening.get("shape") == "surveyed":
            expected = "rafts on piers only before main openings with a level bed"
            yield ("pier_raft",), refusal(expected, "a surveyed bed", "Give a blockage instead.")

    @property
    def channel(self) -> Approach | SurveyedApproach:
        return self.approach

    def persons(self) -> Persons | None:
        crests = (self.deck, self.approach_road, self.bank_level_m)
        return None if crests == (None, None, None) else Persons.of(self.people, None, screened=False)

    @property
    def groups(self) -> list[tuple[str, AnyOpening]]:
        """Every group of openings with the name under which its numbers stand."""
        found = [("opening", self.opening)]
        if self.side_opening is not None:
            found.append(("side_opening", self.side_opening))
        return found + [(f"{FURTHER}_{place}", group) for place, group in enumerate(self.further_openings, 1)]

    def fill(self, collected: Collected, below: Element | None) -> None:
        super().fill(collected, below)
        for name, group in self.groups:
            if isinstance(group, SurveyedOpening):
                fill_profile(collected, group.bed, f"{self.id}.{name}", "span_m", "bed_level_m")
            fill_traced(collected, group, f"{self.id}.{name}")
        for key, crest in (("approach_road", self.approach_road), ("deck", self.deck)):
            if isinstance(crest, RoadProfile):
                fill_profile(collected, crest.profile, f"{self.id}.{key}", "length_m")
        if self.skew is None:
            square = Number(0.0, basis="no skew given: the road is square to the flow", assumed=True)
            collected.add(f"{self.id}.skew.angle_deg", square)
        fill_asked(collected, self.id, self.asked, "air_gap_m")

    def build(self, above: Element | None) -> site.Bridge:  # noqa: ARG002
        groups = [_group(name, group) for name, group in self.groups]
        own = len(groups) - len(self.further_openings)
        skew, road = self.skew, self.approach_road
        return site.Bridge(
            id=self.id,
            shapes=tuple(group.shape for group in groups[:own]),
            approach_shape=self.approach.section.shape,
            spans_along_road=skew is not None and skew.spans == "along the road",
            piers_square_to_road=skew is not None and skew.piers == "square to the road",
            has_deck=self.deck is not None,
            has_approach_road=self.approach_road is not None,
            survey=self.survey,
            has_raft=self.pier_raft is not None,
            shaped_piers=self.pier_shape is not None,
            road_line=crest_line(road.profile) if isinstance(road, RoadProfile) else None,
            beds=tuple(group.strips for group in groups[:own]) if any(group.strips for group in groups[:own]) else (),
            further=tuple(groups[own:]),
            deck_line=crest_line(self.deck.profile) if isinstance(self.deck, RoadProfile) else None,
        )

    @classmethod
    def impossible(cls, reader: Reader, raw: dict[str, Any], below: Extent | None) -> Iterator[LocatedRefusal]:  # noqa: ARG003
        """Levels out of order, arches that cannot be, openings too wide for the channel or shut by skewed piers."""
        bed = approach_bed(reader, raw)
        yield from reader.order(("bank_level_m",), "bank", bed, "a bank above the bed of the approach")
        road = "an approach road above the bed of the approach"
        yield from reader.order(("approach_road", "level_m"), "approach road", bed, road)
        lowest = lowest_of_profile(reader, raw.get("approach_road"), ("approach_road",), "profile")
        if lowest and bed and (wrong := out_of_order(lowest, bed)):
            yield (*reader.path, "approach_road", "profile"), refusal(road, wrong, remedy(wrong))
        for table in _tables(raw):
            yield from impossible_arch(reader, *table)
            yield from _soffit_out_of_place(reader, raw, table, bed)
        written = raw.get("skew")
        skew: dict[str, Any] = written if isinstance(written, dict) else {}
        yield from _too_wide(reader, raw, skew, bed)
        if skew.get("piers") == "square to the road":
            yield from _shut_by_piers(reader, raw, skew)


FURTHER = COUNTED["further_openings"]
Place = tuple[str | int, ...]
"""Where a group of openings stands in the table of its bridge."""


def _group(name: str, group: AnyOpening) -> Group:
    if isinstance(group, SurveyedOpening):
        return Group(name, group.shape, strips_of(group.bed.offsets, group.bed.levels))
    return Group(name, site_shape(group))


def _tables(raw: dict[str, Any]) -> list[Place]:
    """Every group of openings that is written."""
    further = raw.get("further_openings")
    more = range(len(further) if isinstance(further, list) else 0)
    return [(key,) for key in ("opening", "side_opening") if key in raw] + [("further_openings", k) for k in more]


def _written(raw: dict[str, Any], table: Place) -> dict[str, Any]:
    found: Any = raw
    for step in table:
        found = found[step]
    return found if isinstance(found, dict) else {}


def _soffit(reader: Reader, raw: dict[str, Any], table: Place) -> Extent | None:
    foot, rise = reader.get("bed", *table, "bed_level_m"), reader.any_of("rise", table, *RISE)
    if "bed" in _written(raw, table):
        foot = lowest_of_profile(reader, _written(raw, table), table, "bed")
    if rise is None and (points := traced_of(reader.study.folder, _written(raw, table))) is not None:
        rise = "points", Extent.certain("rise", points.rise)
    return foot.plus("soffit", rise[1]) if foot and rise else None


def _deck(reader: Reader, raw: dict[str, Any]) -> Extent | None:
    """The deck, or the lowest point of its profile."""
    given = reader.get("deck", "deck", "level_m")
    return given or lowest_of_profile(reader, raw.get("deck"), ("deck",), "profile")


def _soffit_out_of_place(
    reader: Reader, raw: dict[str, Any], table: Place, bed: Extent | None
) -> Iterator[LocatedRefusal]:
    soffit, deck = _soffit(reader, raw, table), _deck(reader, raw)
    if soffit and bed and (wrong := out_of_order(soffit, bed)):
        fault = refusal("a soffit above the bed of the approach", wrong, remedy(wrong))
        yield (*reader.path, *table, "bed_level_m"), fault
    if soffit and deck and (wrong := out_of_order(deck, soffit, equal=True)):
        key = "level_m" if reader.get("deck", "deck", "level_m") else "profile"
        yield (*reader.path, "deck", key), refusal("a deck not below the soffit", wrong, remedy(wrong))


def _projected(reader: Reader, raw: dict[str, Any], table: Place, skew: dict[str, Any]) -> tuple[str, Extent] | None:
    """The key that gives the span, and the span square to the flow."""
    found = reader.any_of("span", table, *SPAN)
    points = profile_of(reader, _written(raw, table), "bed")
    if points is not None:
        found = "bed", Extent.certain("span", points.offsets[-1] - points.offsets[0])
    traced = traced_of(reader.study.folder, _written(raw, table))
    if traced is not None:
        found = "points", Extent.certain("span", traced.span)
    angle = reader.get("angle", "skew", "angle_deg")
    if found is None or angle is None or skew.get("spans") != "along the road":
        return found
    low, median, high = (math.cos(math.radians(each)) for each in (angle.high, angle.median, angle.low))
    return found[0], found[1].times(Extent("", median, low, high, angle.closed))


def _too_wide(
    reader: Reader, raw: dict[str, Any], skew: dict[str, Any], bed: Extent | None
) -> Iterator[LocatedRefusal]:
    """Openings wider together than the channel at the soffit of the main ones."""
    tables = _tables(raw)
    main = _projected(reader, raw, ("opening",), skew) if ("opening",) in tables else None
    if main is None:
        return
    channel = channel_width(reader, raw, _soffit(reader, raw, ("opening",)), bed)
    if channel is None:
        return
    total = Extent.certain("openings", 0.0)
    for table in tables:
        found = _projected(reader, raw, table, skew)
        if found is not None:
            total = total.plus("openings", found[1].times(reader.get("count", *table, "count") or ONE))
    if wrong := out_of_order(channel, total, equal=True):
        expected = "openings that are not wider together, square to the flow, than the channel at their soffit"
        yield (*reader.path, "opening", main[0]), refusal(expected, wrong, remedy(wrong))


ONE = Extent.certain("count", 1.0)


def _shut_by_piers(reader: Reader, raw: dict[str, Any], skew: dict[str, Any]) -> Iterator[LocatedRefusal]:
    """Spans of which skewed piers leave nothing clear."""
    angle, length = reader.get("angle", "skew", "angle_deg"), reader.get("pier", "skew", "pier_length_m")
    if not (angle and length):
        return
    spans = sum((reader.get("count", *table, "count") or ONE).median for table in _tables(raw))
    share = 1.0 - 1.0 / max(spans, 1.0)
    low, median, high = (share * math.sin(math.radians(each)) for each in (angle.low, angle.median, angle.high))
    across = length.times(Extent("", median, low, high, angle.closed))
    across = across.plus("its share of the piers", Extent.certain("", 0.0))
    for table in _tables(raw):
        found = _projected(reader, raw, table, skew)
        wrong = out_of_order(found[1], across) if found else ""
        if wrong:
            expected = "piers that leave a part of each span clear"
            yield (*reader.path, "skew", "pier_length_m"), refusal(expected, wrong, remedy(wrong))
            return
