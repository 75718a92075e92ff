"""The usual design checks of a culvert, and how its barrels flow.

Relief barrels are held against what is asked of the main ones, each group against its own soffit; a screen stands
before the main barrels only.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from overbank._jit import sweep
from overbank.hydraulics.crossing import NO_WAY_THROUGH, OUTLET_FREE_SURFACE, OUTLET_FULL, OUTLET_PART_FULL
from overbank.hydraulics.screens import clear_ratio
from overbank.hydraulics.traced import ROOF_SHARE
from overbank.site.design_checks import (
    FULL_BY_HEADWATER,
    FULL_BY_TAILWATER,
    FULL_SOMEWHERE,
    PART_FULL,
    SHUT,
    DesignCheck,
    Filling,
    against,
)
from overbank.site.numbers import Array, spread
from overbank.site.structure import Solved

if TYPE_CHECKING:  # the culvert asks this part of itself
    from overbank.site.culvert import Culvert


def checks(culvert: Culvert, solved: Solved) -> Iterator[DesignCheck]:
    """Free height in each group of barrels and before its inlets, and the open area of the screen."""
    for group, part in culvert.groups(solved):
        yield from _of_barrels(culvert.id, group, part)
    if culvert.has_screen:
        yield from _of_screen(culvert, solved)


def _of_barrels(own: str, group: Culvert, solved: Solved) -> Iterator[DesignCheck]:
    """Free height along a group of barrels of the culvert `own`, and between their inlets and the water before them."""
    key, relief, numbers = "freeboard_to_soffit_m", group.id != own, solved.numbers
    name, which = ("relief_", "relief barrels") if relief else ("", "barrel")
    words = f"free height from the water to the soffit, in the {which}"
    yield against(own, f"{name}{key}", words, key, numbers, _least_freeboard(solved))
    soffit = numbers[f"{group.id}.barrel.upstream_invert_m"] + group.rise(numbers)
    words = f"free height from the water to the soffit, at the inlet{' of the relief barrels' if relief else ''}"
    values = np.where(_is_shut(solved), -np.inf, soffit - solved.results["barrel_level"])
    yield against(own, f"{name}soffit_above_headwater_m", words, key, numbers, values)


def _least_freeboard(solved: Solved) -> Array:
    """Least distance from the water surface up to the soffit along the barrel [m]; negative under pressure.

    Bed and soffit of a part run parallel and the depth only rises or only falls on the way, so the least is at an end.
    The depths are those of the profile from the outlet: where the inlet governs, the flow behind it is shallower.
    """
    return np.where(_is_shut(solved), -np.inf, solved.results["free_height"])


def _of_screen(culvert: Culvert, solved: Solved) -> Iterator[DesignCheck]:
    """Open area of the screen over the opening area of the barrels behind it, clean and as blocked.

    With debris on it, it is set against 1: a screen that is still as open as the barrels.
    The area of the screen is counted upright, as its formulas do; along inclined bars it is larger.
    """
    own, key, numbers, samples = culvert.id, "screen_area_ratio", solved.numbers, len(solved.flow)
    width, height, bar, gap = (numbers[f"{own}.screen.{part}"] for part in ("width_m", "height_m", "bar_m", "gap_m"))
    barrels = numbers[f"{own}.barrel.count"] * culvert.rooms(numbers, samples)["full_area"]
    clean = spread(width * height * sweep(clear_ratio)(bar, gap) / barrels, samples)
    words = "open area of the screen over that of the barrels"
    yield against(own, key, f"{words}, clean", key, numbers, clean)
    blocked = clean * (1.0 - culvert.blocked(numbers))
    yield DesignCheck(own, f"blocked_{key}", f"{words}, with debris", "", 1.0, "", blocked)


def filling(group: Culvert, solved: Solved) -> Filling:
    """How a group of barrels flows in every sample.

    Behind an inlet that governs the water is free at first, and full further down only where the tailwater drowns the
    outlet. Otherwise the depths of the profile say it; an outlet counts as full within the last 2 % of the height, over
    which friction meets the roof: without any tailwater a round barrel is never wholly full there.
    """
    results, numbers, last = solved.results, solved.numbers, len(group.joined)
    room = group.rooms(numbers, len(solved.level), last)["clear_height"]
    control = results["regime"]
    filled = (control == OUTLET_FULL) | (control == OUTLET_PART_FULL)
    all_along = control == OUTLET_FULL if last else filled & (results["depth_out"] >= (1.0 - ROOF_SHARE) * room)
    soffit = numbers[f"{group.parts.last}.downstream_invert_m"] + group.parts.rise(numbers, last)
    drowned = solved.tailwater >= soffit
    somewhere = np.where(control == OUTLET_FREE_SURFACE, results["free_height"] <= 0.0, filled | drowned)
    codes = np.where(somewhere, FULL_SOMEWHERE, PART_FULL)
    codes = np.where(all_along, np.where(drowned, FULL_BY_TAILWATER, FULL_BY_HEADWATER), codes)
    codes = np.where(_is_shut(solved), SHUT, codes)
    return Filling(group.id, np.where(np.isnan(control), np.nan, codes))


def _is_shut(solved: Solved) -> Array:
    return np.asarray(solved.results["regime"] == NO_WAY_THROUGH)
