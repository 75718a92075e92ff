"""Every number of a study by its dotted name, and what is taken where the study leaves one out."""

from __future__ import annotations

from collections.abc import Iterator

from overbank.site.numbers import CLIMATE, FLOW
from overbank.study.collect import Assumption, Collected, Follower
from overbank.study.elements.element import Element
from overbank.study.flow import ANNUAL, design_flow, floods_of
from overbank.study.reading.numbers import Number
from overbank.study.reading.readable import COUNTED
from overbank.study.reading.table import Table
from overbank.study.records.observations import observed
from overbank.study.schema import StudyFile
from overbank.study.tailwaters import NormalDepth, Tailwater


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
    if study.flow.climate_factor is not None:
        collected.add(CLIMATE, study.flow.climate_factor)
    for key in ("hydrograph", "debris", "crew", "pool"):
        if (table := getattr(study.flow, key)) is not None:
            for name, number in _numbers(table, f"flow.{key}"):
                collected.add(name, number)
    if study.flow.hydrograph is not None:
        study.flow.hydrograph.fill(collected)
    for name, number in _numbers(study.tailwater, "tailwater"):
        collected.add(name, number)
    _fill_tailwater(collected, study.tailwater)
    below: Element | None = None
    for element in study.element:
        for name, number in _numbers(element, element.id):
            collected.add(name, number)
        element.fill(collected, below)
        below = element
    normal_depth = study.tailwater.normal_depth
    if isinstance(normal_depth, NormalDepth) and normal_depth.bed_level_m is None:
        collected.follow(Follower("tailwater.normal_depth.bed_level_m", study.element[0].bed_below()))
    collected.assumptions.extend(observed(study.observation))
    return collected


def _numbers(table: Table, path: str) -> Iterator[tuple[str, Number]]:
    """The numbers that stand in a table and below it; zones and parts are counted from 1."""
    for key in type(table).model_fields:
        value = getattr(table, key)
        if isinstance(value, Number):
            yield f"{path}.{key}", value
        elif isinstance(value, int) and not isinstance(value, bool):
            yield f"{path}.{key}", Number(float(value))
        elif isinstance(value, Table):
            yield from _numbers(value, f"{path}.{key}")
        elif isinstance(value, list):
            for index, item in enumerate(value):
                yield from _numbers(item, f"{path}.{COUNTED[key]}_{index + 1}")


def _fill_tailwater(collected: Collected, tailwater: Tailwater) -> None:
    if tailwater.rating is not None and tailwater.rating_shift_m is None:
        collected.add("tailwater.rating_shift_m", Number(0.0, basis="the rating as it stands", assumed=True))
