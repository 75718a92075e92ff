"""What structures across the channel have in common that take no length along the flow: weirs, bridges and their like.

In their place, were they not there, the level just below goes on with the velocity head of the structure's own
approach, so that one that contracts nothing has no influence.
"""

from __future__ import annotations

from math import inf, nan
from typing import ClassVar

import numpy as np

from overbank.hydraulics.surveyed import Surveyed, energy_level
from overbank.hydraulics.surveyed_levels import critical_level
from overbank.hydraulics.uniform import critical_depth, velocity_head
from overbank.site.cross_section import Line, Zone, channel_ground, survey_ground, survey_zones
from overbank.site.design_checks import DesignCheck, Filling
from overbank.site.long_section import Outline, Station, drawn_numbers
from overbank.site.numbers import Array, Numbers, Water, flow_of
from overbank.site.people import AtStructure, Bodies
from overbank.site.sections import approach_parts, certain_section
from overbank.site.structure import Published, Said, Solved, Structure
from overbank.site.surveyed import WALLS, SurveyedSection


class Across:
    """A structure across the channel, without a length along the flow.

    approach_shape : of the channel upstream: rectangle, trapezoid or surveyed; survey : the surveyed section, if it is
    one
    """

    id: str
    approach_shape: str
    survey: SurveyedSection | None
    is_reach: ClassVar[bool] = False
    has_length: ClassVar[bool] = False
    spills: ClassVar[bool] = False

    @property
    def approach(self) -> str:
        """Dotted path of the channel upstream."""
        return f"{self.id}.approach"

    def ground(self, numbers: Numbers, top: float) -> tuple[Line, tuple[Zone, ...]]:
        """The channel just upstream as it is drawn, and its zones of roughness where it was surveyed."""
        if self.survey is None:
            bed = drawn_numbers(self.approach, numbers)("bed_level_m")
            return channel_ground(numbers, self.approach, self.approach_shape, bed, top), ()
        number = drawn_numbers(self.approach, numbers)
        ground = survey_ground(self.survey, number("section.shift_m"), top)
        return ground, survey_zones(self.survey, number, "section.")

    def above_survey(self, solved: Solved) -> Said:
        """Where the water stands above an end point of a surveyed approach."""
        if self.survey is not None:
            depth = solved.level - self.survey.lowest(solved.numbers, self.approach)
            yield WALLS, np.isfinite(solved.level) & (depth > self.survey.height)

    def against_bank(self, _flow: Array, _tailwater: Water, water: Water, _numbers: Numbers) -> Array:
        """The level upstream."""
        return water.level

    def stations(self, drawn: Outline, tailwater: Water, solved: Solved) -> list[Station]:
        """Both faces, then the water upstream."""
        return [
            Station(drawn.id, drawn.start, drawn.bed_start, drawn.roof_start, nan, drawn.road, tailwater.level),
            Station(drawn.id, drawn.end, drawn.bed_end, drawn.roof_end, nan, drawn.road, solved.level),
            Station(drawn.id, drawn.end, drawn.bed_end, nan, drawn.bank, nan, solved.level),
        ]

    def pool(self, _numbers: Numbers, _samples: int) -> None:
        """No reach."""

    def drawing_notes(self) -> tuple[str, ...]:
        """Nothing has to be said."""
        return ()

    def bed_below(self, _numbers: Numbers) -> float:
        """The bed below may lie lower than the one above."""
        return nan

    def bed_above(self, numbers: Numbers) -> float:
        """Bed level of the channel upstream [m]."""
        return float(np.asarray(numbers[f"{self.approach}.bed_level_m"]))

    def length(self, _numbers: Numbers) -> float:
        """None."""
        return 0.0

    def absent(self, _above: Structure | None, tailwater: Water, numbers: Numbers) -> tuple[Water, float]:
        """The level below with the velocity head that it has in the approach; without one where that is too shallow."""
        bed, flow, level = self.bed_above(numbers), float(flow_of(numbers, 1)[0]), float(tailwater.level[0])
        if self.survey is not None:
            return _in_the_survey(self.survey, self.approach, tailwater, numbers), bed
        section = certain_section(approach_parts(numbers, self.approach, self.approach_shape))
        if not critical_depth(section, flow) < level - bed < inf:
            return Water(tailwater.level, tailwater.level), bed
        return Water(tailwater.level, tailwater.level + velocity_head(section, flow, level - bed)), bed

    def published(self) -> tuple[Published, ...]:
        """None beside the coefficients of the register."""
        return ()

    def design_checks(self, _solved: Solved) -> tuple[DesignCheck, ...]:
        """There are no usual ones."""
        return ()

    def fillings(self, _solved: Solved) -> tuple[Filling, ...]:
        """There are no barrels."""
        return ()

    def people(self, _solved: Solved, _bodies: Bodies) -> AtStructure | None:
        """People are not looked at here."""
        return None


def _in_the_survey(survey: SurveyedSection, path: str, tailwater: Water, numbers: Numbers) -> Water:
    *zones, method, shift = (float(np.asarray(number)) for number in survey.columns(numbers, path))
    section = Surveyed(survey.table, np.array(zones), method, shift)
    flow, level = float(flow_of(numbers, 1)[0]), float(tailwater.level[0])
    if not critical_level(section, flow).level < level < inf:
        return Water(tailwater.level, tailwater.level)
    return Water(tailwater.level, np.array([energy_level(section, flow, level)]))
