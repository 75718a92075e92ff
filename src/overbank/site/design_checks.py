"""The usual design checks as figures with what is asked of them: margins of every sample, never verdicts.

What is asked is set by local standards and comes from the study, under `<id>.asked`. Relief barrels are held against
what is asked of the main ones, each group against its own soffit; a screen stands before the main barrels only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from overbank._jit import sweep
from overbank.hydraulics import rows
from overbank.hydraulics.crossing import NO_WAY_THROUGH, OUTLET_FREE_SURFACE, OUTLET_FULL, OUTLET_PART_FULL
from overbank.hydraulics.screens import clear_ratio
from overbank.hydraulics.sections import ROOF_SHARE
from overbank.site.bridge import Bridge
from overbank.site.numbers import Array, Column, Numbers, Water, run_named, spread
from overbank.site.row import ElementOutcome, Site, SiteOutcome
from overbank.site.sections import barrel_columns
from overbank.site.structures import Culvert


@dataclass(frozen=True)
class DesignCheck:
    """One figure of every sample, and what is asked of it.

    element : id of the structure; name : of the figure, beginning with "relief_" for relief barrels; words : what it is
    unit : "m", or empty for a ratio
    asked : what it is set against; asked_by : dotted path of that number, empty where no standard asks for it
    values : one a sample; `-inf` where there is no way through, nan where there is no solution
    """

    element: str
    name: str
    words: str
    unit: str
    asked: float
    asked_by: str
    values: Array

    @property
    def margins(self) -> Array:
        """The figure less what is asked."""
        return self.values - self.asked


PART_FULL, FULL_SOMEWHERE, FULL_BY_TAILWATER, FULL_BY_HEADWATER, SHUT = 0, 1, 2, 3, 9

FILLINGS = {
    PART_FULL: "part full along its whole length",
    FULL_SOMEWHERE: "full over part of its length",
    FULL_BY_TAILWATER: "full along its whole length, the tailwater above the soffit of its outlet",
    FULL_BY_HEADWATER: "full along its whole length by the headwater, the tailwater below that soffit",
    SHUT: "no way through",
}
"""How a barrel flows."""


@dataclass(frozen=True)
class Filling:
    """How the barrels of a culvert flow in every sample: keys of `FILLINGS`, nan where there is no solution.

    element : id of the culvert, or `<id>.relief` for its relief barrels
    """

    element: str
    codes: Array


def design_checks(site: Site, outcome: SiteOutcome, numbers: Numbers) -> tuple[DesignCheck, ...]:
    """The usual figures of every culvert and bridge, going upstream."""
    found: list[DesignCheck] = []
    below = outcome.tailwater
    for structure, element in zip(site.elements, outcome.elements, strict=True):
        if isinstance(structure, Culvert):
            for group, results in _groups(structure, element, below, numbers):
                found += _of_barrels(structure.id, group, results, numbers)
            if structure.has_screen:
                found += _of_screen(structure, numbers, len(outcome.flow))
        elif isinstance(structure, Bridge):
            words = "free height from the water upstream to the soffit"
            found.append(_check(structure.id, "air_gap_m", words, "air_gap_m", numbers, element.results["air_gap"]))
        below = element.level
    return tuple(found)


def fillings(site: Site, outcome: SiteOutcome, numbers: Numbers) -> tuple[Filling, ...]:
    """How the barrels of every culvert flow, going upstream."""
    found, below = [], outcome.tailwater
    for structure, element in zip(site.elements, outcome.elements, strict=True):
        if isinstance(structure, Culvert):
            for group, results in _groups(structure, element, below, numbers):
                found.append(Filling(group.id, _filling(group, results, below, numbers)))
        below = element.level
    return tuple(found)


def _groups(
    structure: Culvert, element: ElementOutcome, below: Array, numbers: Numbers
) -> Iterator[tuple[Culvert, ElementOutcome]]:
    """The main barrels, and the relief barrels as a culvert of their own that takes their share of the flow."""
    yield structure, element
    if structure.relief is None:
        return
    group = Culvert(f"{structure.id}.relief", structure.relief.shape, structure.relief.inlet, False, False)
    results = group.details(np.ascontiguousarray(element.results["relief_flow"]), Water(below, below), numbers)
    beside = {**results, "barrel_level": element.level}
    yield group, ElementOutcome(group.id, group.kind, element.level, None, beside)


def _check(own: str, name: str, words: str, key: str, numbers: Numbers, values: Array) -> DesignCheck:
    path = f"{own}.asked.{key}"
    asked = float(np.asarray(numbers[path]).flat[0])
    return DesignCheck(own, name, words, "m" if name.endswith("_m") else "", asked, path, values)


def _of_barrels(own: str, group: Culvert, element: ElementOutcome, numbers: Numbers) -> Iterator[DesignCheck]:
    """Free height along a group of barrels of the culvert `own`, and between their inlets and the water before them."""
    key, relief = "freeboard_to_soffit_m", group.id != own
    name, which = ("relief_", "relief barrels") if relief else ("", "barrel")
    words = f"free height from the water to the soffit, in the {which}"
    yield _check(own, f"{name}{key}", words, key, numbers, least_freeboard(group, element, numbers))
    soffit = numbers[f"{group.id}.barrel.upstream_invert_m"] + _rise(group, numbers)
    words = f"free height from the water to the soffit, at the inlet{' of the relief barrels' if relief else ''}"
    values = np.where(_is_shut(element), -np.inf, soffit - element.results["barrel_level"])
    yield _check(own, f"{name}soffit_above_headwater_m", words, key, numbers, values)


def least_freeboard(structure: Culvert, element: ElementOutcome, numbers: Numbers) -> Array:
    """Least distance from the water surface up to the soffit along the barrel [m]; negative under pressure.

    Bed and soffit run parallel and the depth only rises or only falls on the way, so the least is at an end. The
    depths are those of the profile from the outlet: where the inlet governs, the flow behind it is shallower.
    """
    results = element.results
    room = _rooms(structure, numbers, len(element.level))["clear_height"]
    free = room - np.maximum(results["depth_in"], results["depth_out"])
    return np.where(_is_shut(element), -np.inf, free)


def silt_in_barrels(structure: Culvert, numbers: Numbers, samples: int) -> Array:
    """Height of the silt that blocks the barrels along their whole length [m]."""
    return spread(_rise(structure, numbers), samples) - _rooms(structure, numbers, samples)["clear_height"]


def _of_screen(structure: Culvert, numbers: Numbers, samples: int) -> Iterator[DesignCheck]:
    """Open area of the screen over the opening area of the barrels behind it, clean and as blocked.

    With debris on it, it is set against 1: a screen that is still as open as the barrels.
    The area of the screen is counted upright, as its formulas do; along inclined bars it is larger.
    """
    own, key = structure.id, "screen_area_ratio"
    width, height, bar, gap = (numbers[f"{own}.screen.{part}"] for part in ("width_m", "height_m", "bar_m", "gap_m"))
    barrels = numbers[f"{own}.barrel.count"] * _rooms(structure, numbers, samples)["full_area"]
    clean = spread(width * height * sweep(clear_ratio)(bar, gap) / barrels, samples)
    words = "open area of the screen over that of the barrels"
    yield _check(own, key, f"{words}, clean", key, numbers, clean)
    blocked = clean * (1.0 - numbers[f"{own}.screen.blockage"])
    yield DesignCheck(own, f"blocked_{key}", f"{words}, with debris", "", 1.0, "", blocked)


def _filling(structure: Culvert, element: ElementOutcome, below: Array, numbers: Numbers) -> Array:
    """How the barrels flow in every sample.

    Behind an inlet that governs the water is free at first, and full further down only where the tailwater drowns the
    outlet. Otherwise the depths of the profile say it; an outlet counts as full within the last 2 % of the height, over
    which friction meets the roof: without any tailwater a round barrel is never wholly full there.
    """
    own, results = structure.id, element.results
    room = _rooms(structure, numbers, len(element.level))["clear_height"]
    control = results["regime"] % 10
    filled = (control == OUTLET_FULL) | (control == OUTLET_PART_FULL)
    all_along = filled & (results["depth_out"] >= (1.0 - ROOF_SHARE) * room)
    drowned = below >= numbers[f"{own}.barrel.downstream_invert_m"] + _rise(structure, numbers)
    somewhere = np.where(control == OUTLET_FREE_SURFACE, results["depth_out"] >= room, filled | drowned)
    codes = np.where(somewhere, FULL_SOMEWHERE, PART_FULL)
    codes = np.where(all_along, np.where(drowned, FULL_BY_TAILWATER, FULL_BY_HEADWATER), codes)
    codes = np.where(_is_shut(element), SHUT, codes)
    return np.where(np.isnan(control), np.nan, codes)


def _is_shut(element: ElementOutcome) -> Array:
    return np.asarray(element.results["regime"] % 10 == NO_WAY_THROUGH)


def _rise(structure: Culvert, numbers: Numbers) -> Column:
    return numbers[f"{structure.id}.barrel.{'diameter_m' if structure.shape == 'pipe' else 'rise_m'}"]


def _rooms(structure: Culvert, numbers: Numbers, samples: int) -> dict[str, Array]:
    """Full area of a clean barrel and its height clear of silt."""
    own = structure.id
    columns = [
        *barrel_columns(numbers, f"{own}.barrel", structure.shape),
        numbers.get(f"{own}.blockage", 0.0),
        numbers.get(f"{own}.pattern", 0.0),
    ]
    return run_named(rows.barrel_rooms, rows.ROOM_RESULTS, columns, samples)
