"""Every number of a study by its dotted name: certain, uncertain, or following another number."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from overbank.hydraulics.tables import inlets
from overbank.study.elements import Channel, Culvert, Screen, bar_shapes
from overbank.study.numbers import Number
from overbank.study.patterns import WORDED
from overbank.study.plain import Evidence
from overbank.study.refusals import number as short
from overbank.study.schema import StudyFile
from overbank.study.table import Table

BAR_SHAPE = "rectangle"
OVERFLOW_COEFFICIENT = 1.7


@dataclass(frozen=True)
class Follower:
    """A number that was left out and stands on another: source, or source + slope times length."""

    name: str
    source: str
    rise: tuple[str, str] | None = None

    def value(self, numbers: Mapping[str, Any]) -> Any:
        """Its value, one a sample where its sources are."""
        if self.rise is None:
            return numbers[self.source]
        slope, length = self.rise
        return numbers[self.source] + numbers[slope] * numbers[length]

    @property
    def sources(self) -> tuple[str, ...]:
        return (self.source, *(self.rise or ()))

    @property
    def words(self) -> str:
        """Where it comes from."""
        return self.source if self.rise is None else f"{self.source} + {self.rise[0]} x {self.rise[1]}"


@dataclass(frozen=True)
class Assumption:
    """One line of the register: a number, what is taken for it, and where that comes from.

    words : the value or the distribution, as a report says it
    assumed : the study left it out, and the program took it from `basis`
    """

    name: str
    words: str
    uncertain: bool
    basis: str | None
    evidence: Evidence | None
    assumed: bool


@dataclass
class Collected:
    """The numbers of one study, while they are gathered."""

    fixed: dict[str, float] = field(default_factory=dict)
    uncertain: dict[str, Number] = field(default_factory=dict)
    followers: list[Follower] = field(default_factory=list)
    assumptions: list[Assumption] = field(default_factory=list)

    def add(self, name: str, number: Number) -> None:
        """A number that the study gives, or a default."""
        if number.distribution is not None:
            self.uncertain[name] = number
            words = number.distribution.words
        else:
            self.fixed[name] = number.median
            known = WORDED.get(name.rsplit(".", 1)[-1])
            words = known[int(number.median)] if known else short(number.median)
        self.assumptions.append(
            Assumption(name, words, number.uncertain, number.basis, number.evidence, number.assumed)
        )

    def follow(self, follower: Follower) -> None:
        """A number that stands on others; certain when they all are."""
        if all(source in self.fixed for source in follower.sources):
            self.fixed[follower.name] = value = float(follower.value(self.fixed))
            words = short(value)
        else:
            self.followers.append(follower)
            words = f"follows {follower.words}"
        basis = f"left out: taken as {follower.words}"
        self.assumptions.append(Assumption(follower.name, words, False, basis, None, True))


def collect(study: StudyFile) -> Collected:
    """All numbers, in the order flow, tailwater, elements going upstream."""
    collected = Collected()
    collected.add("flow.design_m3_s", study.flow.design_m3_s)
    for name, number in _numbers(study.tailwater, "tailwater"):
        collected.add(name, number)
    if study.tailwater.rating is not None and study.tailwater.rating_shift_m is None:
        collected.add("tailwater.rating_shift_m", Number(0.0, basis="the rating as it stands", assumed=True))
    bed: tuple[str, tuple[str, str] | None] | None = None
    for element in study.element:
        for name, number in _numbers(element, element.id):
            collected.add(name, number)
        if isinstance(element, Culvert):
            _fill_culvert(collected, element)
            bed = f"{element.id}.barrel.upstream_invert_m", None
        else:
            if element.bed_level_m is None and bed is not None:
                collected.follow(Follower(f"{element.id}.bed_level_m", *bed))
            bed = f"{element.id}.bed_level_m", (f"{element.id}.bed_slope", f"{element.id}.length_m")
    normal_depth = study.tailwater.normal_depth
    if normal_depth is not None and normal_depth.bed_level_m is None:
        collected.follow(Follower("tailwater.normal_depth.bed_level_m", _lowest_bed(study.element[0])))
    return collected


def _numbers(table: Table, path: str) -> Iterator[tuple[str, Number]]:
    """The numbers that stand in a table and below it."""
    for key in type(table).model_fields:
        value = getattr(table, key)
        if isinstance(value, Number):
            yield f"{path}.{key}", value
        elif isinstance(value, int) and not isinstance(value, bool):
            yield f"{path}.{key}", Number(float(value))
        elif isinstance(value, Table):
            yield from _numbers(value, f"{path}.{key}")


def _lowest_bed(element: Culvert | Channel) -> str:
    key = "barrel.downstream_invert_m" if isinstance(element, Culvert) else "bed_level_m"
    return f"{element.id}.{key}"


def _fill_culvert(collected: Collected, culvert: Culvert) -> None:
    """What a culvert leaves out."""
    path = culvert.id
    if culvert.barrel.bed_manning_n is None:
        collected.follow(Follower(f"{path}.barrel.bed_manning_n", f"{path}.barrel.manning_n"))
    if culvert.inlet.entrance_loss is None:
        entry = inlets()[culvert.barrel.shape, culvert.inlet.edge]
        basis = f"{entry.entrance_loss_source} ({entry.entrance_loss_how_known})"
        loss = Number(entry.entrance_loss, basis=basis, assumed=True)
        collected.add(f"{path}.inlet.entrance_loss", loss)
    if culvert.screen is not None:
        _fill_screen(collected, culvert.screen, path)
        return
    if culvert.blockage is None:
        collected.add(f"{path}.blockage", Number(0.0, basis="no blockage given: clean", assumed=True))
    if culvert.pattern is None:
        collected.add(f"{path}.pattern", Number(0.0, basis="no pattern given: uniform", assumed=True))


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
