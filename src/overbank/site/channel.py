"""An open reach of one section and slope, simple or surveyed."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from math import nan
from typing import ClassVar

import numpy as np

from overbank._jit import run_rows
from overbank.hydraulics import rows, surveyed_rows
from overbank.hydraulics.columns import columns
from overbank.hydraulics.pools import Along, ReachPool, surveyed, trapezoid
from overbank.site.bank_line import BankLine
from overbank.site.cross_section import CrossSection, Zone, channel_ground, survey_ground, survey_zones
from overbank.site.design_checks import DesignCheck, Filling
from overbank.site.long_section import Outline, Station, drawn_numbers
from overbank.site.numbers import Array, Column, Numbers, Results, Water, run_named, spread
from overbank.site.people import AtStructure, Bodies
from overbank.site.sections import channel_parts
from overbank.site.structure import Drawn, Figure, Published, Said, Solved, Structure
from overbank.site.surveyed import SEVERAL, WALLS, SurveyedSection

REGIMES = {
    rows.SUBCRITICAL: "subcritical",
    rows.STEEP: "steep for this flow: critical depth taken at its upstream end",
    rows.STEEP_DROWNED: "steep for this flow, but drowned from below all along",
}
"""What governs."""

OF_LINE = "; the level is set against a bank that follows a profile"
UPSTREAM_END = "at its upstream end"

SHARES = (0.25, 0.5, 0.75, 1.0)
"""Where along a reach the water level is computed for drawing."""


class OpenReach(ABC):
    """What reaches of simple and of surveyed sections have in common."""

    id: str
    bank: BankLine | None
    kind: ClassVar[str] = "channel"
    is_reach: ClassVar[bool] = True
    has_length: ClassVar[bool] = True
    spills: ClassVar[bool] = False
    figures: ClassVar[tuple[Figure, ...]] = (
        Figure("depth", "depth_m", "depth {:.2f} m"),
        Figure("velocity", "velocity_m_s", "velocity {:.1f} m/s"),
        Figure("alpha", "energy_coefficient"),
    )

    @abstractmethod
    def headwater(self, flow: Array, tailwater: Water, numbers: Numbers) -> Water:
        """Water at its upstream end."""

    @abstractmethod
    def solve(self, flow: Array, tailwater: Water, numbers: Numbers) -> Results:
        """Everything worth reporting by name."""

    def against_bank(self, flow: Array, tailwater: Water, water: Water, numbers: Numbers) -> Array:
        """The level at its upstream end, or the one set against a bank that follows a profile (`bank_line`)."""
        if self.bank is None:
            return water.level
        path = f"{self.id}.length_m"

        def level_at(distance: float) -> Array:
            shorter = {**numbers, path: np.minimum(distance, numbers[path])}
            return self.headwater(flow, tailwater, shorter).level

        return self.bank.against(level_at)

    def states(self, results: Results) -> dict[str, Array]:
        return {"regime": results["regime"]}

    def governs(self, state: Mapping[str, float]) -> str:
        return REGIMES[int(state["regime"])] + (OF_LINE if self.bank is not None else "")

    def remarks(self, solved: Solved) -> Said:
        steep = solved.results["regime"] == rows.STEEP
        yield "reach steep for the flow: no subcritical profile, critical depth taken as the level", steep

    def outline(self, number: Drawn, start: float) -> Outline:
        bed, length = number("bed_level_m"), number("length_m")
        top, bank = bed + number("bed_slope") * length, number("bank_level_m")
        return Outline(self.id, self.kind, start, start + length, bed, top, bank=bank)

    def stations(self, drawn: Outline, tailwater: Water, solved: Solved) -> list[Station]:
        """A few shares of its length."""
        length, found = drawn.end - drawn.start, []
        for share in SHARES:
            path = f"{self.id}.length_m"
            shorter = {**solved.numbers, path: share * np.asarray(solved.numbers[path])}
            level, at = self.solve(solved.flow, tailwater, shorter)["level"], share * length
            bed = drawn.bed_start + share * (drawn.bed_end - drawn.bed_start)
            found.append(Station(self.id, drawn.start + at, bed, nan, drawn.bank, nan, level))
        return found

    @abstractmethod
    def across(self, numbers: Numbers, top: float) -> CrossSection:
        """Its section at the upstream end."""

    def drawing_notes(self) -> tuple[str, ...]:
        return ()

    def bed_below(self, numbers: Numbers) -> float:
        return float(np.asarray(numbers.get(f"{self.id}.bed_level_m", nan)))

    def bed_above(self, numbers: Numbers) -> float:
        rise = numbers[f"{self.id}.bed_slope"] * numbers[f"{self.id}.length_m"]
        return float(np.asarray(numbers.get(f"{self.id}.bed_level_m", nan) + rise))

    def length(self, numbers: Numbers) -> float:
        return float(np.asarray(numbers[f"{self.id}.length_m"]))

    def absent(self, _above: Structure | None, tailwater: Water, numbers: Numbers) -> tuple[Water, float]:
        """There is nothing in the water that could be taken away."""
        return tailwater, self.bed_above(numbers)

    @abstractmethod
    def section(self, numbers: Numbers, samples: int) -> tuple[Along, Along]:
        """Area of its section below a level at its downstream end [m2], and that integrated over the level [m3/m]."""

    def pool(self, numbers: Numbers, samples: int) -> ReachPool:
        """The water that stands in it below a level surface."""
        bed, slope, length = (
            spread(numbers[f"{self.id}.{key}"], samples) for key in ("bed_level_m", "bed_slope", "length_m")
        )
        return ReachPool(*self.section(numbers, samples), bed, slope, length)

    def published(self) -> tuple[Published, ...]:
        return ()

    def design_checks(self, _solved: Solved) -> tuple[DesignCheck, ...]:
        return ()

    def fillings(self, _solved: Solved) -> tuple[Filling, ...]:
        return ()

    def people(self, _solved: Solved, _bodies: Bodies) -> AtStructure | None:
        return None


@dataclass(frozen=True)
class Channel(OpenReach):
    """An open reach of one section and slope; its bed level is given at its downstream end."""

    id: str
    shape: str
    bank: BankLine | None = None

    def section(self, numbers: Numbers, samples: int) -> tuple[Along, Along]:
        parts = channel_parts(numbers, self.id, self.shape)
        bed = numbers[f"{self.id}.bed_level_m"]
        return trapezoid(*(spread(each, samples) for each in (bed, parts["width"], parts["side_slope"])))

    def across(self, numbers: Numbers, top: float) -> CrossSection:
        ground = channel_ground(numbers, self.id, self.shape, self.bed_above(numbers), top)
        n = drawn_numbers(self.id, numbers)("manning_n")
        return CrossSection(UPSTREAM_END, ground, (Zone(ground[0][0], ground[-1][0], n),))

    def headwater(self, flow: Array, tailwater: Water, numbers: Numbers) -> Water:
        return Water.of(self.solve(flow, tailwater, numbers))

    def solve(self, flow: Array, tailwater: Water, numbers: Numbers) -> Results:
        parts = {
            "section": channel_parts(numbers, self.id, self.shape),
            "length": numbers[f"{self.id}.length_m"],
            "bed": numbers[f"{self.id}.bed_level_m"],
            "slope": numbers[f"{self.id}.bed_slope"],
            **{"flow": flow, "level": tailwater.level, "energy": tailwater.energy},
        }
        return run_named(rows.channel_states, rows.Reach._fields, columns(rows.ReachRow, parts), len(flow))


@dataclass(frozen=True, eq=False)
class SurveyedChannel(OpenReach):
    """An open reach of one surveyed section, whose levels hold at its downstream end, and of one slope."""

    id: str
    survey: SurveyedSection
    bank: BankLine | None = None

    def section(self, numbers: Numbers, samples: int) -> tuple[Along, Along]:
        return surveyed(self.survey.table, spread(numbers[f"{self.id}.section.shift_m"], samples))

    def across(self, numbers: Numbers, top: float) -> CrossSection:
        number = drawn_numbers(self.id, numbers)
        rise = number("section.shift_m") + number("bed_slope") * number("length_m")
        ground = survey_ground(self.survey, rise, top)
        return CrossSection(UPSTREAM_END, ground, survey_zones(self.survey, number, "section."))

    def _columns(self, flow: Array, tailwater: Water, numbers: Numbers) -> list[Column]:
        parts = {
            "length": numbers[f"{self.id}.length_m"],
            "slope": numbers[f"{self.id}.bed_slope"],
            **{"flow": flow, "level": tailwater.level, "energy": tailwater.energy},
        }
        return [*self.survey.columns(numbers, self.id), *columns(surveyed_rows.SurveyedReachRow, parts)]

    def headwater(self, flow: Array, tailwater: Water, numbers: Numbers) -> Water:
        loop = partial(surveyed_rows.surveyed_levels, self.survey.table)
        level, energy = run_rows(loop, self._columns(flow, tailwater, numbers), 2, len(flow))
        return Water(level, energy)

    def solve(self, flow: Array, tailwater: Water, numbers: Numbers) -> Results:
        loop = partial(surveyed_rows.surveyed_states, self.survey.table)
        return run_named(loop, surveyed_rows.SurveyedReach._fields, self._columns(flow, tailwater, numbers), len(flow))

    def remarks(self, solved: Solved) -> Said:
        yield from super().remarks(solved)
        results = solved.results
        yield WALLS, np.maximum(results["depth"], results["depth_below"]) > self.survey.height
        yield SEVERAL.replace("above it", "in this reach"), np.isfinite(results["next_normal"])
