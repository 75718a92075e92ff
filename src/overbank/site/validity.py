"""How often a formula was used outside the range it was fitted or tested for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isinf

import numpy as np
from numpy.typing import NDArray

from overbank.hydraulics import bridges, clean_screens, tapered, weir_level
from overbank.hydraulics.crest_limits import CrestLimit, crest_limits, crest_quantities, outside
from overbank.hydraulics.crossing import INLET_DROWNED, INLET_FREE, NO_WAY_THROUGH
from overbank.hydraulics.culverts import LIMITS
from overbank.hydraulics.rows import STEEP
from overbank.hydraulics.tables import InletEntry
from overbank.site.bridge import Bridge
from overbank.site.numbers import Array, Numbers
from overbank.site.row import ElementOutcome, Site, SiteOutcome
from overbank.site.structures import Culvert
from overbank.site.surveyed import SurveyedChannel, SurveyedNormalDepth
from overbank.site.tailwater import Rating
from overbank.site.weir import Weir

SMALL_HEAD = 0.05
"""Heads over a crest below this make weir coefficients drift [m] (common practice, no source)."""

SEVERAL = "another normal level for the same flow and roughness above it: the lowest is taken"
WALLS = "water above an end point of the survey: the section is taken to go on as vertical walls"


@dataclass(frozen=True)
class Remark:
    """A condition that a reader must know of, the structure it concerns, and the share of samples that meet it."""

    element: str
    words: str
    share: float


def remarks(site: Site, outcome: SiteOutcome, numbers: Numbers) -> tuple[Remark, ...]:
    """Every remark on a run that concerns at least one sample."""
    found = [Remark("tailwater", words, share) for words, share in _of_tailwater(site, outcome, numbers)]
    below = outcome.tailwater
    for structure, element in zip(site.elements, outcome.elements, strict=True):
        if isinstance(structure, Culvert):
            said = _of_culvert(structure, element, numbers)
        elif isinstance(structure, Weir):
            said = _of_weir(structure, element, below, numbers)
        elif isinstance(structure, Bridge):
            said = _of_bridge(structure, element, numbers)
        else:
            said = _of_channel(structure if isinstance(structure, SurveyedChannel) else None, element)
        found += [Remark(structure.id, words, _share(met)) for words, met in said]
        found.append(Remark(structure.id, "no solution: counted as failed", _share(np.isnan(element.level))))
        below = element.level
    return tuple(remark for remark in found if remark.share > 0.0)


Said = Iterator[tuple[str, NDArray[np.bool_] | Array]]
"""Words, and where they hold."""


def _of_tailwater(site: Site, outcome: SiteOutcome, numbers: Numbers) -> Iterator[tuple[str, float]]:
    if isinstance(site.tailwater, Rating):
        yield "flow beyond the rating table, whose end level is held", site.tailwater.share_outside(outcome.flow)
    if isinstance(site.tailwater, SurveyedNormalDepth):
        yield SEVERAL, site.tailwater.share_of_several(numbers, outcome.flow)
        yield WALLS, site.tailwater.share_above_ends(numbers, outcome.tailwater)


def _of_channel(surveyed: SurveyedChannel | None, element: ElementOutcome) -> Said:
    results = element.results
    steep = results["regime"] == STEEP
    yield "reach steep for the flow: no subcritical profile, critical depth taken as the level", steep
    if surveyed is not None:
        yield WALLS, np.maximum(results["depth"], results["depth_below"]) > surveyed.survey.height
        yield SEVERAL.replace("above it", "in this reach"), np.isfinite(results["next_normal"])


def _of_culvert(structure: Culvert, element: ElementOutcome, numbers: Numbers) -> Said:
    own, results = structure.id, element.results
    control = results["regime"] % 10
    invert = numbers[f"{own}.barrel.upstream_invert_m"]
    rise = numbers.get(f"{own}.barrel.rise_m", numbers.get(f"{own}.barrel.diameter_m", np.nan))
    low, high = LIMITS["inlet head over rise"]
    ratio = (results["inlet_level"] - invert) / rise
    by_inlet = (control == INLET_FREE) | (control == INLET_DROWNED)
    yield f"inlet control with a head below {low:g} times the rise", by_inlet & (ratio < low)
    yield f"inlet control with a head above {high:g} times the rise", by_inlet & (ratio > high)
    yield "no way through the barrels", control == NO_WAY_THROUGH
    if structure.face is not None:
        yield from _of_face(structure, structure.face, rise, numbers)
    yield "tailwater above the road, which drowns it", results["regime"] >= 200
    if structure.has_road:
        head = results["level"] - numbers[f"{own}.road.level_m"]
        yield _thin("road"), (results["road_flow"] > 0.0) & (head < SMALL_HEAD)
    if structure.has_screen:
        top = numbers[f"{own}.screen.sill_level_m"] + numbers[f"{own}.screen.height_m"]
        yield "water over the top of the screen", np.asarray(results["level"] > top)
        bars = numbers[f"{own}.screen.bar_m"] / numbers[f"{own}.screen.gap_m"]
        what, low, high = clean_screens.LIMITS["kirschmer"]
        yield (
            f"{what} of the screen outside {low:g} to {high:g}, Kirschmer's range",
            np.broadcast_to((bars < low) | (bars > high), np.shape(results["level"])),
        )


def _of_face(structure: Culvert, face: InletEntry, rise: float | Array, numbers: Numbers) -> Said:
    """Where a tapered entrance is not like those that were tested."""
    barrel, inlet = f"{structure.id}.barrel", f"{structure.id}.inlet.face"
    span = numbers.get(f"{barrel}.span_m", rise)
    values = [
        numbers[f"{inlet}.height_m"] / rise,
        numbers.get(f"{inlet}.taper_length_m", np.nan) / np.maximum((numbers[f"{inlet}.width_m"] - span) / 2.0, 1e-9),
        span / rise,
        numbers[f"{inlet}.invert_level_m"] - numbers[f"{barrel}.upstream_invert_m"] if "side" in face.edge else np.nan,
        numbers[f"{barrel}.count"],
    ]
    for (what, (low, high)), value in zip(tapered.LIMITS.items(), values, strict=True):
        ends = f"below {low:g}" if isinf(high) else f"outside {low:g} to {high:g}"
        yield f"{what} {ends}, the range of the tests of HDS-5", (np.asarray(value) < low) | (np.asarray(value) > high)


def _thin(crest: str) -> str:
    return f"less than {SMALL_HEAD * 1000:g} mm of water over the {crest}"


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


def _of_weir(structure: Weir, element: ElementOutcome, below: Array, numbers: Numbers) -> Said:
    results = element.results
    crest = {key: numbers.get(f"{structure.id}.crest.{key}", 0.0) for key in ("width_m", "breadth_m", "angle_deg")}
    level = numbers[f"{structure.id}.crest.level_m"]
    quantities = crest_quantities(
        results["head"],
        level - numbers[f"{structure.id}.approach.bed_level_m"],
        crest["width_m"],
        crest["breadth_m"],
        crest["angle_deg"],
        level - below,
    )
    flows = np.isfinite(results["level"])
    oblique = crest_limits("oblique") if np.any(np.asarray(crest["angle_deg"]) > 0.0) else ()
    for limit in (*crest_limits(structure.crest), *oblique):
        yield _limit_words(limit), outside(limit, quantities) & flows
    yield from _above_survey(structure, results["level"], numbers)
    yield "approach critical: the crest would draw more", results["regime"] == weir_level.APPROACH_CRITICAL
    yield "crest low against the head and drowned: an energy balance over it", results["regime"] == weir_level.LOW_SILL
    yield "no crest to flow over", results["regime"] == weir_level.NO_CREST


def _above_survey(structure: Weir | Bridge, level: Array, numbers: Numbers) -> Said:
    if structure.survey is not None:
        lowest = structure.survey.lowest(numbers, f"{structure.id}.approach")
        yield WALLS, np.isfinite(level) & (level - lowest > structure.survey.height)


def _limit_words(limit: CrestLimit) -> str:
    if isinf(limit.high):
        ends = f"below {limit.low:g}"
    else:
        ends = f"above {limit.high:g}" if isinf(limit.low) else f"outside {limit.low:g} to {limit.high:g}"
    return f"{QUANTITIES[limit.quantity]} {ends}, the limit in {limit.source}"


def _of_bridge(structure: Bridge, element: ElementOutcome, numbers: Numbers) -> Said:
    own, results = structure.id, element.results
    control = results["regime"] % bridges.OVER_DECK
    yield from _above_survey(structure, results["level"], numbers)
    yield "openings choked: they pass the flow at its least energy", control == bridges.CHOKED
    yield (
        "water at the soffit: pressure formulas blended in, judged good to 10 to 30 % of the flow",
        np.isin(control, (bridges.SLUICE, bridges.ORIFICE, bridges.SLUICE_DROWNED)),
    )
    yield "openings larger than the channel at the level below: nothing is contracted", results["opening_ratio"] > 1.0
    yield "no way through the openings", control == bridges.SHUT_BRIDGE
    for crest, there in (("deck", structure.has_deck), ("approach_road", structure.has_approach_road)):
        if there:
            head = results["level"] - numbers[f"{own}.{crest}.level_m"]
            yield _thin(crest.replace("_", " ")), (head > 0.0) & (head < SMALL_HEAD)


def _share(met: NDArray[np.bool_] | Array) -> float:
    return float(np.mean(met))
