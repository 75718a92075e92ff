"""A weir across the channel, straight or diagonal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from overbank.hydraulics import rows
from overbank.hydraulics.crests import KINDS, THIN_PLATE, plate_constants
from overbank.site.numbers import Array, Column, Numbers, Water, run_named
from overbank.site.sections import approach_columns

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


@dataclass(frozen=True)
class Weir:
    """A level crest; its kind is a word of `hydraulics.crests.KINDS`, its approach a rectangle or a trapezoid."""

    id: str
    crest: str
    approach_shape: str
    kind: ClassVar[str] = "weir"

    def _columns(self, flow: Array, below: Water, numbers: Numbers) -> list[Column]:
        own = self.id
        code = KINDS.index(self.crest)
        return [
            *approach_columns(numbers, f"{own}.approach", self.approach_shape),
            *self._plate(numbers, code),
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

    def _plate(self, numbers: Numbers, code: int) -> list[Column]:
        """Constants of a thin plate by the share of the channel's width that it spans."""
        if code != THIN_PLATE:
            return [0.0] * rows.PLATE
        channel = "width_m" if self.approach_shape == "rectangle" else "bed_width_m"
        ratio = np.asarray(numbers[f"{self.id}.crest.width_m"] / numbers[f"{self.id}.approach.section.{channel}"])
        return list(plate_constants(ratio))

    def details(self, flow: Array, below: Water, numbers: Numbers) -> dict[str, Array]:
        return run_named(rows.weir_states, rows.WEIR_RESULTS, self._columns(flow, below, numbers), len(flow))

    def upstream(self, flow: Array, below: Water, numbers: Numbers) -> Water:
        return Water.of(self.details(flow, below, numbers))
