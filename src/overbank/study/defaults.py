"""Every number of a study by its dotted name, and what is taken where the study leaves one out."""

from __future__ import annotations

from collections.abc import Iterator

from overbank.hydraulics.tables import inlets, read_table
from overbank.site.numbers import FLOW
from overbank.study import elements
from overbank.study.asked import STAND_INS
from overbank.study.bridges import Bridge
from overbank.study.collect import Assumption, Collected, Follower
from overbank.study.elements import Channel, Culvert, Relief, Screen, SurveyedChannel, bar_shapes
from overbank.study.flow import ANNUAL, design_flow, floods_of
from overbank.study.inlets import TaperedInlet
from overbank.study.reading.numbers import Number
from overbank.study.reading.table import Table
from overbank.study.records.observations import observed
from overbank.study.schema import StudyFile
from overbank.study.surveyed import Surveyed, SurveyedApproach
from overbank.study.tailwaters import NormalDepth, Tailwater
from overbank.study.weirs import ThinPlate, TriangularProfile, Weir

BAR_SHAPE = "rectangle"
OVERFLOW_COEFFICIENT = 1.7


def collect(study: StudyFile) -> Collected:
    """All numbers, in the order flow, tailwater, elements going upstream."""
    collected = Collected()
    floods = floods_of(study.flow, study.run.seed)
    collected.add(FLOW, design_flow(study.flow, floods))
    if floods is not None and study.flow.source is not None:
        source = study.flow.source
        collected.assumptions.append(
            Assumption(ANNUAL, floods.words, True, source.basis, source.evidence, False, "each flood")
        )
    for name, number in _numbers(study.tailwater, "tailwater"):
        collected.add(name, number)
    _fill_tailwater(collected, study.tailwater)
    below: elements.Element | None = None
    for element in study.element:
        for name, number in _numbers(element, element.id):
            collected.add(name, number)
        match element:
            case Culvert():
                _fill_culvert(collected, element)
            case Channel():
                if element.bed_level_m is None and below is not None:
                    collected.follow(Follower(f"{element.id}.bed_level_m", *_bed_upstream(below)))
            case SurveyedChannel():
                _fill_surveyed_channel(collected, element)
            case Weir():
                _fill_weir(collected, element)
            case Bridge():
                _fill_bridge(collected, element)
        below = element
    normal_depth = study.tailwater.normal_depth
    if isinstance(normal_depth, NormalDepth) and normal_depth.bed_level_m is None:
        collected.follow(Follower("tailwater.normal_depth.bed_level_m", _lowest_bed(study.element[0])))
    collected.assumptions.extend(observed(study.observation))
    return collected


def _numbers(table: Table, path: str) -> Iterator[tuple[str, Number]]:
    """The numbers that stand in a table and below it; zones are counted from 1."""
    for key in type(table).model_fields:
        value = getattr(table, key)
        if isinstance(value, Number):
            yield f"{path}.{key}", value
        elif isinstance(value, int) and not isinstance(value, bool):
            yield f"{path}.{key}", Number(float(value))
        elif isinstance(value, Table):
            yield from _numbers(value, f"{path}.{key}")
        elif isinstance(value, list):
            for index, zone in enumerate(value):
                yield from _numbers(zone, f"{path}.zone_{index + 1}")


def _bed_upstream(element: elements.Element) -> tuple[str, tuple[str, ...]]:
    """What the bed of a channel above an element stands on."""
    own = element.id
    match element:
        case Culvert():
            return f"{own}.barrel.upstream_invert_m", ()
        case Weir() | Bridge():
            return f"{own}.approach.bed_level_m", ()
        case _:
            return f"{own}.bed_level_m", (f"{own}.bed_slope", f"{own}.length_m")


def _lowest_bed(element: elements.Element) -> str:
    """What the bed of the tailwater's channel stands on."""
    match element:
        case Culvert():
            return f"{element.id}.barrel.downstream_invert_m"
        case Weir() | Bridge():
            return f"{element.id}.approach.bed_level_m"
        case _:
            return f"{element.id}.bed_level_m"


def _fill_tailwater(collected: Collected, tailwater: Tailwater) -> None:
    if tailwater.rating is not None and tailwater.rating_shift_m is None:
        collected.add("tailwater.rating_shift_m", Number(0.0, basis="the rating as it stands", assumed=True))


def _fill_culvert(collected: Collected, culvert: Culvert) -> None:
    """What a culvert leaves out."""
    path, inlet = culvert.id, culvert.inlet
    _fill_barrels(collected, culvert, path)
    if culvert.relief is not None:
        _fill_barrels(collected, culvert.relief, f"{path}.relief")
    if isinstance(inlet, TaperedInlet) and inlet.face.invert_level_m is None:
        collected.follow(Follower(f"{path}.inlet.face.invert_level_m", f"{path}.barrel.upstream_invert_m"))
    _fill_asked(collected, culvert, "freeboard_to_soffit_m")
    if culvert.screen is not None:
        _fill_screen(collected, culvert.screen, path)
        _fill_asked(collected, culvert, "screen_area_ratio")
        return
    if culvert.blockage is None:
        collected.add(f"{path}.blockage", Number(0.0, basis="no blockage given: clean", assumed=True))
    if culvert.pattern is None:
        collected.add(f"{path}.pattern", Number(0.0, basis="no pattern given: uniform", assumed=True))


def _fill_barrels(collected: Collected, group: Culvert | Relief, path: str) -> None:
    """What a group of barrels leaves out."""
    inlet = group.inlet
    if group.barrel.bed_manning_n is None:
        collected.follow(Follower(f"{path}.barrel.bed_manning_n", f"{path}.barrel.manning_n"))
    if inlet.entrance_loss is None:
        entry = inlets()[group.barrel.shape, inlet.throat if isinstance(inlet, TaperedInlet) else inlet.edge]
        basis = f"{entry.entrance_loss_source} ({entry.entrance_loss_how_known})"
        loss = Number(entry.entrance_loss, basis=basis, assumed=True)
        collected.add(f"{path}.inlet.entrance_loss", loss)


def _fill_screen(collected: Collected, screen: Screen, path: str) -> None:
    if screen.shape_factor is None:
        shape = screen.bar_shape or BAR_SHAPE
        row = bar_shapes()[shape]
        basis = f"bars of the shape {shape}: {row['source']} ({row['how_known']})"
        factor = Number(float(row["shape_factor"]), basis=basis, assumed=screen.bar_shape is None)
        collected.add(f"{path}.screen.shape_factor", factor)
    if screen.sill_level_m is None:
        collected.follow(Follower(f"{path}.screen.sill_level_m", f"{path}.barrel.upstream_invert_m"))
    if screen.overflow_coefficient is None:
        coefficient = Number(0.0, basis="overflow = false: there is no way over the screen")
        if screen.overflow:
            basis = "a broad crest in critical flow, (2/3)^1.5 g^0.5 = 1.705, rounded"
            coefficient = Number(OVERFLOW_COEFFICIENT, basis=basis, assumed=True)
        collected.add(f"{path}.screen.overflow_coefficient", coefficient)


def _fill_surveyed_channel(collected: Collected, channel: SurveyedChannel) -> None:
    """The bed of a surveyed reach: the lowest point of its survey."""
    _fill_survey(collected, channel.section, channel.id)


def _fill_approach(collected: Collected, element: Weir | Bridge) -> None:
    """The bed of a surveyed approach."""
    if isinstance(element.approach, SurveyedApproach):
        _fill_survey(collected, element.approach.section, f"{element.id}.approach")


def _fill_survey(collected: Collected, surveyed: Surveyed, path: str) -> None:
    """The bed of a surveyed section, its lowest point."""
    section, points = f"{path}.section", surveyed.points
    lowest = Number(min(points.levels), basis=f"the lowest point of {points.name}")
    collected.add(f"{section}.lowest_point_m", lowest)
    collected.follow(Follower(f"{path}.bed_level_m", f"{section}.lowest_point_m", (f"{section}.shift_m",)))


def _fill_weir(collected: Collected, weir: Weir) -> None:
    """What a weir leaves out."""
    crest = f"{weir.id}.crest"
    _fill_approach(collected, weir)
    if weir.crest.width_m is None:
        collected.follow(Follower(f"{crest}.width_m", f"{weir.id}.approach.section.width_m"))
    if isinstance(weir.crest, TriangularProfile):
        return  # drowned along a curve of its own
    if isinstance(weir.crest, ThinPlate) or weir.crest.modular_limit is None:
        collected.add(f"{crest}.modular_limit", _modular_limit(weir.crest.kind))


def _modular_limit(kind: str) -> Number:
    """The published modular limit of a kind of crest, of the case that its table lists first."""
    row = next(row for row in read_table("crest_modular_limits") if row["kind"] == kind)
    basis = f"{row['case']}: {row['source']} ({row['how_known']})"
    return Number(float(row["mode"]), basis=basis, assumed=True)


def _fill_bridge(collected: Collected, bridge: Bridge) -> None:
    """What a bridge leaves out."""
    _fill_approach(collected, bridge)
    if bridge.skew is None:
        square = Number(0.0, basis="no skew given: the road is square to the flow", assumed=True)
        collected.add(f"{bridge.id}.skew.angle_deg", square)
    _fill_asked(collected, bridge, "air_gap_m")


def _fill_asked(collected: Collected, element: Culvert | Bridge, key: str) -> None:
    """What a design check is set against where the study asks for nothing."""
    if element.asked is None or getattr(element.asked, key) is None:
        collected.add(f"{element.id}.asked.{key}", STAND_INS[key])
