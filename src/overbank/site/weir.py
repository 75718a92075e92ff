"""A weir across the channel, straight or diagonal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from math import isinf, isnan
from typing import ClassVar

import numpy as np

from overbank.hydraulics import rows, surveyed_rows, weir_level
from overbank.hydraulics.columns import Parts, columns
from overbank.hydraulics.crest_limits import CrestLimit, crest_limits, crest_quantities, outside
from overbank.hydraulics.crests import KINDS, THIN_PLATE, UNEVEN, PlateRow, plate_constants
from overbank.hydraulics.weir_level import WeirState
from overbank.site.across import Across
from overbank.site.crest_line import WALLS, CrestLine
from overbank.site.cross_section import FROM_ABOVE, CrossSection, crest_of, middle_of
from overbank.site.long_section import DRAWN_LENGTH, Outline, drawn_numbers
from overbank.site.numbers import Array, Column, Numbers, Results, Water, run_named
from overbank.site.sections import approach_parts
from overbank.site.structure import Drawn, Figure, Said, Solved
from overbank.site.surveyed import SurveyedSection
from overbank.site.validity import thin

REGIMES = {
    weir_level.FREE: "free flow over the crest",
    weir_level.DROWNED: "crest drowned from below",
    weir_level.APPROACH_CRITICAL: "critical depth upstream of the crest",
    weir_level.LOW_SILL: "drowned crest low against the head, energy over the bump",
    weir_level.NO_CREST: "no crest to flow over",
}
"""What governs."""

CREST_NUMBERS = {
    "level": "level_m",
    "width": "width_m",
    "breadth": "breadth_m",
    "angle_deg": "angle_deg",
    "gain": "oblique_gain",
    "factor": "flow_factor",
    "coefficient": "coefficient",
    "modular_limit": "modular_limit",
}
"""Numbers of `hydraulics.weir_level.Crest` as the study calls them, under the weir's id."""

OF_SOME_KINDS = {
    "breadth_m": ("broad_crested", "round_nosed"),
    "angle_deg": KINDS,
    "oblique_gain": KINDS,
    "coefficient": ("given", "uneven"),
    "modular_limit": ("broad_crested", "round_nosed", "thin_plate", "given", "uneven"),
}
"""Numbers that only these kinds of crest have."""

LEAST_WIDTH = 1e-6
"""A crest below the bed of a surveyed section has no channel beside it [m]."""


@dataclass(frozen=True)
class Weir(Across):
    """A crest; its kind is a word of `hydraulics.crests.KINDS`, or uneven.

    approach_shape : rectangle, trapezoid or surveyed; survey : the surveyed section, if it is one
    line : the profile of an uneven crest
    """

    id: str
    crest: str
    approach_shape: str
    survey: SurveyedSection | None = None
    line: CrestLine | None = None
    kind: ClassVar[str] = "weir"
    figures: ClassVar[tuple[Figure, ...]] = (
        Figure("velocity", "velocity_m_s", "velocity {:.1f} m/s"),
        Figure("head", "head_over_crest_m", "head over the crest {:.2f} m"),
        Figure("drowned_factor", "share_of_free_flow"),
        Figure("alpha", "energy_coefficient"),
    )

    def headwater(self, flow: Array, tailwater: Water, numbers: Numbers) -> Water:
        return Water.of(self.solve(flow, tailwater, numbers))

    def solve(self, flow: Array, tailwater: Water, numbers: Numbers) -> Results:
        parts = {
            "crest": self._parts(numbers, len(flow)),
            **{"flow": flow, "tailwater": tailwater.level, "energy": tailwater.energy},
        }
        laid = columns(rows.WeirRow, parts)
        line = None if self.line is None else self.line.points
        if self.survey is None:
            return run_named(partial(rows.lined_weir_states, line), WeirState._fields, laid, len(flow))
        loop = partial(surveyed_rows.surveyed_weir_states, self.survey.table, line)
        laid = [*self.survey.columns(numbers, self.approach), *laid]
        return run_named(loop, (*WeirState._fields, *surveyed_rows.ALPHA), laid, len(flow))

    def _parts(self, numbers: Numbers, samples: int) -> Parts:
        """The numbers of `hydraulics.weir_level.Crest`."""
        code = UNEVEN if self.line is not None else KINDS.index(self.crest)
        return {
            "approach": approach_parts(numbers, self.approach, self.approach_shape),
            "plate": self._plate(numbers, samples) if code == THIN_PLATE else None,
            "kind": float(code),
            **{name: self._crest(numbers, key) for name, key in CREST_NUMBERS.items()},
            "approach_bed": numbers[f"{self.approach}.bed_level_m"],
        }

    def _crest(self, numbers: Numbers, key: str) -> Column:
        if self.crest not in OF_SOME_KINDS.get(key, (self.crest,)):
            return 0.0
        return numbers[f"{self.id}.crest.{key}"]

    def _plate(self, numbers: Numbers, samples: int) -> Parts:
        """Constants of a thin plate by the share of the channel's width that it spans."""
        width = np.maximum(self._channel_width(numbers, samples), LEAST_WIDTH)
        constants = plate_constants(np.asarray(numbers[f"{self.id}.crest.width_m"] / width))
        return dict(zip(PlateRow._fields, constants, strict=True))

    def _channel_width(self, numbers: Numbers, samples: int) -> Column:
        """Width of the approach: of the bed, or of a surveyed section at the level of the crest [m]."""
        path, level = self.approach, numbers[f"{self.id}.crest.level_m"]
        if self.survey is not None:
            return self.survey.widths(numbers, path, level, samples)
        if self.approach_shape == "rectangle":
            return numbers[f"{path}.section.width_m"]
        return numbers[f"{path}.section.bed_width_m"]

    def states(self, results: Results) -> dict[str, Array]:
        return {"regime": results["regime"]}

    def governs(self, state: Mapping[str, float]) -> str:
        return REGIMES[int(state["regime"])]

    def remarks(self, solved: Solved) -> Said:
        results, numbers = solved.results, solved.numbers
        crest = {key: numbers.get(f"{self.id}.crest.{key}", 0.0) for key in ("width_m", "breadth_m", "angle_deg")}
        level = numbers[f"{self.id}.crest.level_m"]
        quantities = crest_quantities(
            results["head"],
            level - numbers[f"{self.approach}.bed_level_m"],
            crest["width_m"],
            crest["breadth_m"],
            crest["angle_deg"],
            level - solved.tailwater,
        )
        flows = np.isfinite(solved.level)
        oblique = crest_limits("oblique") if np.any(np.asarray(crest["angle_deg"]) > 0.0) else ()
        for limit in (*crest_limits(self.crest), *oblique):
            yield _limit_words(limit), outside(limit, quantities) & flows
        yield from self.above_survey(solved)
        if self.line is not None:
            yield thin("crest", results["head"], results["head"] > 0.0)
            yield WALLS.format("crest"), self.line.over_an_end(results["head"])
        yield "approach critical: the crest would draw more", results["regime"] == weir_level.APPROACH_CRITICAL
        low = results["regime"] == weir_level.LOW_SILL
        yield "crest low against the head and drowned: an energy balance over it", low
        yield "no crest to flow over", results["regime"] == weir_level.NO_CREST

    def across(self, numbers: Numbers, top: float) -> CrossSection:
        number, (ground, zones) = drawn_numbers(self.id, numbers), self.ground(numbers, top)
        angle, level = number("crest.angle_deg"), number("crest.level_m")
        middle = middle_of(ground, level)
        crest = crest_of("crest", level, number("crest.width_m"), self.line, middle)
        return CrossSection(FROM_ABOVE, ground, zones, crests=(crest,), turned=0.0 if isnan(angle) else angle)

    def outline(self, number: Drawn, start: float) -> Outline:
        bed, crest = number("approach.bed_level_m"), number("crest.level_m")
        end, bank = start + DRAWN_LENGTH, number("bank_level_m")
        return Outline(self.id, self.kind, start, end, bed, bed, road=crest, crest="crest", bank=bank)


QUANTITIES = {
    "head_m": "head over the crest [m]",
    "height_m": "height of the crest above the bed [m]",
    "width_m": "width of the crest [m]",
    "head_over_breadth": "head over the crest's breadth",
    "head_over_height": "head over the crest's height",
    "breadth_over_height": "breadth of the crest over its height",
    "width_over_head": "width of the crest over the head",
    "width_over_breadth": "width of the crest over its breadth",
    "angle_deg": "angle of the crest [deg]",
    "crest_above_level_below_m": "height of the crest above the water below [m]",
}
"""What a limit of `hydraulics.crest_limits` is set on."""


def _limit_words(limit: CrestLimit) -> str:
    if isinf(limit.high):
        ends = f"below {limit.low:g}"
    else:
        ends = f"above {limit.high:g}" if isinf(limit.low) else f"outside {limit.low:g} to {limit.high:g}"
    return f"{QUANTITIES[limit.quantity]} {ends}, the limit in {limit.source}"
