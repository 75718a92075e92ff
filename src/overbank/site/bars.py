"""Bars before the inlet of a culvert as the formulas take them: their numbers, and what debris blocks of them."""

from __future__ import annotations

import numpy as np

from overbank._jit import sweep
from overbank.hydraulics.clean_screens import kirschmer
from overbank.hydraulics.columns import Parts
from overbank.hydraulics.screens import clear_ratio
from overbank.site.numbers import Array, Column, Numbers


def screen_parts(numbers: Numbers, path: str) -> Parts:
    """The numbers of `hydraulics.crossing.Screen`."""
    bar, gap = numbers[f"{path}.bar_m"], numbers[f"{path}.gap_m"]
    return {
        "width": numbers[f"{path}.width_m"],
        "height": numbers[f"{path}.height_m"],
        "sill": numbers[f"{path}.sill_level_m"],
        "clear": sweep(clear_ratio)(bar, gap),
        "clean_loss": sweep(kirschmer)(numbers[f"{path}.shape_factor"], bar, gap, numbers[f"{path}.inclination_deg"]),
        "blockage": blocked(numbers, path),
        "pattern": numbers[f"{path}.pattern"],
        "overflow_coefficient": numbers[f"{path}.overflow_coefficient"],
        "lean": np.sin(np.radians(numbers[f"{path}.inclination_deg"])),
        "bypass": _bypass(numbers, path),
    }


def _bypass(numbers: Numbers, path: str) -> Parts | None:
    """The numbers of `hydraulics.screens.Bypass`; None where there is none."""
    if f"{path}.bypass.width_m" not in numbers:
        return None
    top = numbers[f"{path}.bypass.sill_level_m"] - numbers[f"{path}.sill_level_m"]
    return {
        "width": numbers[f"{path}.bypass.width_m"],
        "top": top,
        "coefficient": numbers[f"{path}.bypass.coefficient"],
    }


def blocked(numbers: Numbers, path: str) -> Column:
    """Blocked share of the screen: as given, or what an area or volume of debris covers of it, along the bars."""
    if f"{path}.blockage" in numbers:
        return numbers[f"{path}.blockage"]
    lean = np.sin(np.radians(numbers[f"{path}.inclination_deg"]))
    bars = numbers[f"{path}.width_m"] * numbers[f"{path}.height_m"] / lean
    if f"{path}.debris_m3" in numbers:
        debris = numbers[f"{path}.debris_m3"] / numbers[f"{path}.debris_thickness_m"]
    else:
        debris = numbers[f"{path}.debris_m2"]
    covered: Array = np.minimum(debris / bars, 1.0)
    return covered
