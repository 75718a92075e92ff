"""A sluice gate across the channel: water below its lip, with a free or a drowned jet, and over its top."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import ClassVar

import numpy as np

from overbank.hydraulics import gate
from overbank.hydraulics.columns import columns
from overbank.site.across import Across
from overbank.site.cross_section import FROM_ABOVE, CrossSection, crest_of, rectangle
from overbank.site.long_section import DRAWN_LENGTH, Outline, drawn_numbers
from overbank.site.numbers import Array, Numbers, Results, Water, run_named
from overbank.site.structure import Drawn, Figure, Said, Solved
from overbank.site.surveyed import SurveyedSection
from overbank.site.validity import thin

REGIMES = {
    gate.FREE_JET: "free jet below the lip",
    gate.DROWNED_JET: "jet drowned from below",
    gate.LIP_CLEAR: "lip out of the water: nothing but the opening holds it up",
    gate.SHUT_GATE: "no way below the lip",
}
"""What governs below the lip."""

OVER_TOP = "; flow over the top of the gate"


@dataclass(frozen=True)
class Gate(Across):
    """A gate between a channel of rectangular section and the water below; `has_top` where water can go over it."""

    id: str
    has_top: bool
    approach_shape: str = "rectangle"
    survey: SurveyedSection | None = None
    kind: ClassVar[str] = "gate"
    figures: ClassVar[tuple[Figure, ...]] = (
        Figure("gate_flow", "gate_flow_m3_s", "below the lip {:.3g} m³/s"),
        Figure("jet_velocity", "jet_velocity_m_s", "at {:.1f} m/s in the jet"),
        Figure("over_flow", "over_flow_m3_s", "over the top {:.3g} m³/s"),
        Figure("jet_depth", "jet_depth_m"),
    )

    def headwater(self, flow: Array, tailwater: Water, numbers: Numbers) -> Water:
        return Water.of(self.solve(flow, tailwater, numbers))

    def solve(self, flow: Array, tailwater: Water, numbers: Numbers) -> Results:
        water = {"flow": flow, "tailwater": tailwater.level, "energy": tailwater.energy}
        laid = columns(gate.GateRow, {"gate": self.parts(numbers), **water})
        return run_named(gate.gate_states, gate.GateState._fields, laid, len(flow))

    def parts(self, numbers: Numbers) -> dict[str, float | Array]:
        """The numbers of `hydraulics.gate.Gate`; debris below the lip takes its share of the opening."""
        own = self.id
        return {
            "width": numbers[f"{own}.width_m"],
            "opening": numbers[f"{own}.opening_m"] * (1.0 - numbers[f"{own}.blockage"]),
            "contraction": numbers[f"{own}.contraction"],
            "approach_width": numbers[f"{self.approach}.section.width_m"],
            "bed": numbers[f"{self.approach}.bed_level_m"],
            "sill": numbers[f"{own}.sill_level_m"],
            "top": numbers[f"{own}.top_level_m"] if self.has_top else inf,
            "top_coefficient": numbers[f"{own}.top_coefficient"] if self.has_top else 0.0,
        }

    def states(self, results: Results) -> dict[str, Array]:
        over = np.where(np.isnan(results["regime"]), np.nan, results["over_flow"] > 0.0)
        return {"over_top": over, "regime": results["regime"]}

    def governs(self, state: Mapping[str, float]) -> str:
        return REGIMES[int(state["regime"])] + (OVER_TOP if state["over_top"] else "")

    def remarks(self, solved: Solved) -> Said:
        control, parts = solved.results["regime"], self.parts(solved.numbers)
        jet = (control == gate.FREE_JET) | (control == gate.DROWNED_JET)
        contracted = parts["contraction"] * parts["opening"] * (1.0 + 1e-9)
        yield "jet drowned: published methods differ by about 5 % of the flow", control == gate.DROWNED_JET
        words = "lip near the surface, where the jet's contraction fades: our own proposal"
        yield words, jet & (solved.results["jet_depth"] > contracted)
        yield "lip out of the water: no gate, but a gap in a wall", control == gate.LIP_CLEAR
        yield "no way below the lip", control == gate.SHUT_GATE
        if self.has_top:
            yield thin("gate", solved.level - parts["top"], solved.results["over_flow"] > 0.0)

    def across(self, numbers: Numbers, top: float) -> CrossSection:
        number, (ground, zones) = drawn_numbers(self.id, numbers), self.ground(numbers, top)
        width, sill, opening = number("width_m"), number("sill_level_m"), number("opening_m")
        crests = (crest_of("top", number("top_level_m"), width, None, 0.0),) if self.has_top else ()
        return CrossSection(FROM_ABOVE, ground, zones, (rectangle(width, sill, sill + opening),), crests)

    def outline(self, number: Drawn, start: float) -> Outline:
        bed, lip = number("approach.bed_level_m"), number("sill_level_m") + number("opening_m")
        end = start + DRAWN_LENGTH
        return Outline(
            *(self.id, self.kind, start, end, bed, bed, lip, lip),
            road=number("top_level_m"),
            crest="top",
            bank=number("bank_level_m"),
            hides_water=True,
        )
