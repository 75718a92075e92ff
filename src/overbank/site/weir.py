"""A weir across the channel, straight or diagonal."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import ClassVar

import numpy as np

from overbank.hydraulics import rows
from overbank.hydraulics.crests import KINDS, THIN_PLATE, plate_constants
from overbank.site.numbers import Array, Column, Numbers, Water, run_named
from overbank.site.sections import approach_columns
from overbank.site.surveyed import SurveyedSection, surveyed_columns

CREST_NUMBERS = (
    *("level_m", "width_m", "breadth_m", "angle_deg", "oblique_gain", "flow_factor"),
    *("coefficient", "modular_limit"),
)
"""Numbers of the crest under the weir's id, in the order of `hydraulics.weir_level.Crest`."""

OF_SOME_KINDS = {
    "breadth_m": ("broad_crested", "round_nosed"),
    "coefficient": ("given",),
    "modular_limit": ("broad_crested", "round_nosed", "thin_plate", "given"),
}
"""Numbers that only these kinds of crest have."""

LEAST_WIDTH = 1e-6
"""A crest below the bed of a surveyed section has no channel beside it [m]."""


@dataclass(frozen=True)
class Weir:
    """A level crest; its kind is a word of `hydraulics.crests.KINDS`.

    approach_shape : rectangle, trapezoid or surveyed; survey : the surveyed section, if it is one
    """

    id: str
    crest: str
    approach_shape: str
    survey: SurveyedSection | None = None
    kind: ClassVar[str] = "weir"

    def _columns(self, flow: Array, below: Water, numbers: Numbers) -> list[Column]:
        own = self.id
        code = KINDS.index(self.crest)
        return [
            *surveyed_columns(numbers, f"{own}.approach", self.survey),
            *approach_columns(numbers, f"{own}.approach", self.approach_shape),
            *self._plate(numbers, code, len(flow)),
            float(code),
            *(self._crest(numbers, key) for key in CREST_NUMBERS),
            numbers[f"{own}.approach.bed_level_m"],
            flow,
            below.level,
            below.energy,
        ]

    def _crest(self, numbers: Numbers, key: str) -> Column:
        if self.crest not in OF_SOME_KINDS.get(key, (self.crest,)):
            return 0.0
        return numbers[f"{self.id}.crest.{key}"]

    def _plate(self, numbers: Numbers, code: int, samples: int) -> list[Column]:
        """Constants of a thin plate by the share of the channel's width that it spans."""
        if code != THIN_PLATE:
            return [0.0] * rows.PLATE
        width = np.maximum(self._channel_width(numbers, samples), LEAST_WIDTH)
        return list(plate_constants(np.asarray(numbers[f"{self.id}.crest.width_m"] / width)))

    def _channel_width(self, numbers: Numbers, samples: int) -> Column:
        """Width of the approach: of the bed, or of a surveyed section at the level of the crest [m]."""
        path, level = f"{self.id}.approach", numbers[f"{self.id}.crest.level_m"]
        if self.survey is not None:
            return self.survey.widths(numbers, path, level, samples)
        if self.approach_shape == "rectangle":
            return numbers[f"{path}.section.width_m"]
        return numbers[f"{path}.section.bed_width_m"]

    def details(self, flow: Array, below: Water, numbers: Numbers) -> dict[str, Array]:
        columns = self._columns(flow, below, numbers)
        if self.survey is None:
            return run_named(rows.weir_states, rows.WEIR_RESULTS, columns, len(flow))
        loop = partial(rows.surveyed_weir_states, self.survey.table)
        return run_named(loop, rows.SURVEYED_WEIR_RESULTS, columns, len(flow))

    def upstream(self, flow: Array, below: Water, numbers: Numbers) -> Water:
        return Water.of(self.details(flow, below, numbers))
