"""What the water at a culvert does to people, for every sample: before and on its bars, in its barrels, over its road.

Only the main barrels are looked at, not relief barrels. Figures, never verdicts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from overbank._jit import sweep
from overbank.hydraulics import hazard, people
from overbank.site.design_checks import silt_in_barrels
from overbank.site.numbers import Array, Numbers, spread
from overbank.site.row import ElementOutcome, Site, SiteOutcome
from overbank.site.structures import Culvert

SCREEN, BARREL = "screen", "barrel"
"""The two sides that are laid next to each other: held on the bars, and carried through the barrel."""


@dataclass(frozen=True)
class Bodies:
    """What is taken of people: drag coefficient [-]; area of an adult and of a child, turned to the flow [m2]."""

    drag_coefficient: float
    adult_area: float
    child_area: float


@dataclass(frozen=True)
class Felt:
    """One figure of every sample.

    side : `SCREEN` or `BARREL`; name : of the figure; words : what it is
    unit : "m", "m/s", "N" or "s"
    values : one a sample; `inf` where nothing flows through or there is no way through, nan where there is no solution
    """

    side: str
    name: str
    words: str
    unit: str
    values: Array


@dataclass(frozen=True)
class Wading:
    """Water that a person may stand in: where, its depth [m], 0 where dry, and its velocity [m/s]."""

    place: str
    depth: Array
    velocity: Array


@dataclass(frozen=True)
class AtCulvert:
    """Everything about people at one culvert."""

    element: str
    figures: tuple[Felt, ...]
    waters: tuple[Wading, ...]


def people_at(site: Site, outcome: SiteOutcome, numbers: Numbers, element: str, bodies: Bodies) -> AtCulvert:
    """The figures of one culvert, and the water before it, over its road and over its bank."""
    structure, found, below = _placed(site, outcome, element)
    figures = [*_in_barrel(structure, found, below, numbers)]
    if structure.has_screen:
        figures = [*_on_screen(structure, found, below, numbers, bodies), *figures]
    return AtCulvert(element, tuple(figures), tuple(_waters(structure, found, below, numbers)))


def _placed(site: Site, outcome: SiteOutcome, element: str) -> tuple[Culvert, ElementOutcome, Array]:
    """A culvert, its results, and the level just below it."""
    below = outcome.tailwater
    for structure, found in zip(site.elements, outcome.elements, strict=True):
        if structure.id == element and isinstance(structure, Culvert):
            return structure, found, below
        below = found.level
    raise ValueError(f"expected the id of a culvert, got {element!r}")


def head_difference(structure: Culvert, element: ElementOutcome, below: Array, numbers: Numbers) -> Array:
    """Level before the bars less the level behind them [m]; `inf` when there is no way through.

    Where nothing passes the bars, the water behind them stands at the level below the culvert, or at their foot.
    """
    results = element.results
    sill = numbers[f"{structure.id}.screen.sill_level_m"]
    endless = np.isposinf(element.level)
    level = np.where(endless, 0.0, element.level)
    held_up = np.where(endless, np.inf, np.maximum(level - np.maximum(below, sill), 0.0))
    return np.where(endless | (results["barrel_flow"] <= 0.0), held_up, results["screen_drop"])


def _on_screen(
    structure: Culvert, element: ElementOutcome, below: Array, numbers: Numbers, bodies: Bodies
) -> Iterator[Felt]:
    """What a person is held by on the bars."""
    drop = head_difference(structure, element, below, numbers)
    velocity = element.results["screen_velocity"]
    yield Felt(SCREEN, "head_difference_m", "head difference across the screen", "m", drop)
    yield Felt(SCREEN, "approach_velocity_m_s", "approach velocity, on the wetted screen as a whole", "m/s", velocity)
    for who, area in (("adult", bodies.adult_area), ("child", bodies.child_area)):
        drag = sweep(people.drag_force)(bodies.drag_coefficient, area, velocity)
        pressure = sweep(people.pressure_force)(area, drop)
        yield Felt(SCREEN, f"{who}_drag_n", f"force of the current on {_an(who)} held on the bars", "N", drag)
        yield Felt(SCREEN, f"{who}_pressure_n", f"force of the head difference on {_an(who)}", "N", pressure)
        both = sweep(people.most_force)(drag, pressure)
        yield Felt(SCREEN, f"{who}_most_n", f"both together on {_an(who)}, at most", "N", both)


def _an(who: str) -> str:
    return f"{'an' if who == 'adult' else 'a'} {who}"


def _in_barrel(structure: Culvert, element: ElementOutcome, below: Array, numbers: Numbers) -> Iterator[Felt]:
    """What a person who is carried through the barrel meets."""
    own, results, samples = structure.id, element.results, len(element.level)
    length = spread(numbers[f"{own}.barrel.length_m"], samples)
    yield Felt(BARREL, "length_m", "length of the barrel", "m", length)
    yield Felt(BARREL, "velocity_m_s", "greatest velocity in the barrel", "m/s", results["velocity_most"])
    yield Felt(BARREL, "transit_time_s", "time that the water takes through the barrel", "s", results["transit_time"])
    air = _free_air(structure, element, below, numbers)
    yield Felt(BARREL, "free_air_m", "free air in the barrel, at its least", "m", air)


def _free_air(structure: Culvert, element: ElementOutcome, below: Array, numbers: Numbers) -> Array:
    """Least height of air along the barrel [m]; where nothing flows in it, over the water that stands in its outlet."""
    own, results = structure.id, element.results
    silt = silt_in_barrels(structure, numbers, len(element.level))
    room = numbers[f"{own}.barrel.{'diameter_m' if structure.shape == 'pipe' else 'rise_m'}"] - silt
    standing = np.maximum(below - numbers[f"{own}.barrel.downstream_invert_m"] - silt, 0.0)
    still = results["barrel_flow"] <= 0.0
    inside, out = (np.where(still, standing, results[name]) for name in ("depth_in", "depth_out"))
    air: Array = sweep(people.free_air)(room, inside, out)
    return air


def _waters(structure: Culvert, element: ElementOutcome, below: Array, numbers: Numbers) -> Iterator[Wading]:
    """Water before the screen or inlet, over the road, and over the bank."""
    own, level, results = structure.id, element.level, element.results
    if structure.has_screen:
        depth = np.maximum(level - numbers[f"{own}.screen.sill_level_m"], 0.0)
        yield Wading("before the screen", depth, results["screen_velocity"])
    else:
        depth = np.maximum(level - numbers[f"{own}.barrel.upstream_invert_m"], 0.0)
        yield Wading("before the inlet", depth, results["velocity_in"])
    if structure.has_road:
        unit_flow = results["road_flow"] / numbers[f"{own}.road.length_m"]
        yield _over_crest("over the road", unit_flow, below - numbers[f"{own}.road.level_m"])
    if element.bank_level is not None:
        yield _over_bank(level - element.bank_level)


def _over_crest(place: str, unit_flow: Array, drowned_depth: Array) -> Wading:
    """Water over a level crest: at critical depth, or as deep as the water below where that stands higher."""
    wet = unit_flow > 0.0
    depth = np.where(wet, np.maximum(sweep(people.crest_depth)(unit_flow), drowned_depth), 0.0)
    velocity = np.where(wet, unit_flow / np.where(wet, depth, 1.0), 0.0)
    unknown = np.isnan(unit_flow)
    return Wading(place, np.where(unknown, np.nan, depth), np.where(unknown, np.nan, velocity))


def _over_bank(head: Array) -> Wading:
    """Water over the bank, as over a broad crest: critical flow under the head, d = 2/3 h, v^2 = g d."""
    depth = 2.0 / 3.0 * np.maximum(head, 0.0)
    return Wading("over the bank", depth, sweep(people.crest_velocity)(depth))


def hazard_of(water: Wading, land_use: str, edition: str) -> tuple[Array, Array, Array]:
    """Hazard rating, its class and the general class of every sample; classes are nan where it is dry."""
    ratings = hazard.rating(water.depth, water.velocity, land_use)
    dry = water.depth <= 0.0
    classes = hazard.rating_class(ratings, edition)
    general = hazard.general_class(water.depth, water.velocity)
    return ratings, np.where(dry, np.nan, classes), np.where(dry, np.nan, general)
