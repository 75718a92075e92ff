"""A side weir: a stretch of channel with a crest along its side, over which water leaves the row for good."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from overbank.hydraulics import side_weir
from overbank.hydraulics.columns import columns
from overbank.site.across import Across
from overbank.site.cross_section import FROM_ABOVE, CrossSection
from overbank.site.long_section import Outline
from overbank.site.numbers import Array, Numbers, Results, Water, run_named
from overbank.site.sections import approach_parts
from overbank.site.structure import Drawn, Figure, Said, Solved
from overbank.site.surveyed import SurveyedSection
from overbank.site.validity import thin

REGIMES = {
    side_weir.NONE_OVER: "water below the side crest",
    side_weir.OVER_SIDE: "water leaves over the side crest",
    side_weir.CRITICAL_ABOVE: "water leaves over the side crest, critical depth at its upper end",
}
"""What governs."""

NONE_STAYS = 1e-9
"""Nothing stays where less than this share of what leaves does [-]."""

LEAVES = "water leaves the row here: what stands below has that much less flow, and its afflux is told at that flow"


@dataclass(frozen=True)
class SideWeir(Across):
    """A crest along the side of a simple channel with a level bed, over which water falls freely."""

    id: str
    approach_shape: str
    survey: SurveyedSection | None = None
    kind: ClassVar[str] = "side_weir"
    is_reach: ClassVar[bool] = True
    has_length: ClassVar[bool] = True
    spills: ClassVar[bool] = True
    figures: ClassVar[tuple[Figure, ...]] = (
        Figure("over_flow", "over_flow_m3_s", "over the side {:.3g} m³/s"),
        Figure("flow_below", "flow_below_m3_s", "{:.3g} m³/s stay in the channel"),
        Figure("flow_above", "flow_above_m3_s"),
        Figure("depth", "depth_m", "depth {:.2f} m"),
        Figure("velocity", "velocity_m_s", "velocity {:.1f} m/s"),
        Figure("depth_below", "depth_below_m"),
    )

    @property
    def approach(self) -> str:
        """Its own channel."""
        return self.id

    def headwater(self, flow: Array, tailwater: Water, numbers: Numbers) -> Water:
        return Water.of(self.solve(flow, tailwater, numbers))

    def solve(self, flow: Array, tailwater: Water, numbers: Numbers) -> Results:
        weir = {
            "section": approach_parts(numbers, self.id, self.approach_shape),
            "bed": numbers[f"{self.id}.bed_level_m"],
            "length": numbers[f"{self.id}.length_m"],
            "crest": numbers[f"{self.id}.crest_level_m"],
            "coefficient": numbers[f"{self.id}.coefficient"],
        }
        water = {"flow": flow, "tailwater": tailwater.level, "energy": tailwater.energy}
        laid = columns(side_weir.SideWeirRow, {"weir": weir, **water})
        return run_named(side_weir.side_weir_states, side_weir.SideWeirState._fields, laid, len(flow))

    def against_bank(self, flow: Array, tailwater: Water, water: Water, numbers: Numbers) -> Array:
        """The highest level along the crest: that at its lower end, unless the flow is critical at the upper one."""
        at_lower_end = {**numbers, f"{self.id}.length_m": 0.0}
        return np.asarray(np.maximum(self.headwater(flow, tailwater, at_lower_end).level, water.level))

    def states(self, results: Results) -> dict[str, Array]:
        return {"regime": results["regime"]}

    def governs(self, state: Mapping[str, float]) -> str:
        return REGIMES[int(state["regime"])]

    def remarks(self, solved: Solved) -> Said:
        results, crest = solved.results, solved.numbers[f"{self.id}.crest_level_m"]
        over = results["over_flow"] > 0.0
        yield LEAVES, over
        critical = results["regime"] == side_weir.CRITICAL_ABOVE
        yield "side crest: critical depth at its upper end; supercritical water along it is not followed", critical
        backwards = over & (results["flow_below"] <= NONE_STAYS * results["over_flow"])
        yield "side crest: all that comes from above leaves, and water from below may too", backwards
        yield thin("side crest", results["depth_below"] + solved.numbers[f"{self.id}.bed_level_m"] - crest, over)

    def across(self, numbers: Numbers, top: float) -> CrossSection:
        ground, zones = self.ground(numbers, top)
        return CrossSection(FROM_ABOVE, ground, zones)

    def drawing_notes(self) -> tuple[str, ...]:
        return (f"The side crest of “{self.id}” is not drawn.",)

    def outline(self, number: Drawn, start: float) -> Outline:
        bed, length = number("bed_level_m"), number("length_m")
        return Outline(self.id, self.kind, start, start + length, bed, bed, bank=number("bank_level_m"))

    def length(self, numbers: Numbers) -> float:
        return float(np.asarray(numbers[f"{self.id}.length_m"]))

    def bed_below(self, numbers: Numbers) -> float:
        return self.bed_above(numbers)
