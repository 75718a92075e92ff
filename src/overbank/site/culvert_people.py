"""What the water at a culvert does to people: before and on its bars, in its barrels, over its road and bank.

Only the main barrels are looked at, not relief barrels.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from overbank._jit import sweep
from overbank.hydraulics import people
from overbank.site.numbers import Array, spread
from overbank.site.people import BARREL, SCREEN, AtStructure, Bodies, Felt, Wading, over_bank
from overbank.site.structure import Solved

if TYPE_CHECKING:  # the culvert asks this part of itself
    from overbank.site.culvert import Culvert


def at_culvert(culvert: Culvert, solved: Solved, bodies: Bodies) -> AtStructure:
    """The figures of a culvert, and the water before it, over its road and over its bank."""
    on_screen = tuple(_on_screen(culvert, solved, bodies)) if culvert.has_screen else ()
    figures = (*on_screen, *_in_barrel(culvert, solved))
    return AtStructure(culvert.id, figures, tuple(_waters(culvert, solved)))


def head_difference(culvert: Culvert, solved: Solved) -> Array:
    """Level before the bars less the level behind them [m]; `inf` when there is no way through.

    Where nothing passes the bars, the water behind them stands at the level below the culvert, or at their foot.
    """
    results = solved.results
    sill = solved.numbers[f"{culvert.id}.screen.sill_level_m"]
    endless = np.isposinf(solved.level)
    level = np.where(endless, 0.0, solved.level)
    held_up = np.where(endless, np.inf, np.maximum(level - np.maximum(solved.tailwater, sill), 0.0))
    return np.where(endless | (results["barrel_flow"] <= 0.0), held_up, results["screen_drop"])


def _on_screen(culvert: Culvert, solved: Solved, bodies: Bodies) -> Iterator[Felt]:
    """What a person is held by on the bars."""
    drop = head_difference(culvert, solved)
    velocity = solved.results["screen_velocity"]
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


def _in_barrel(culvert: Culvert, solved: Solved) -> Iterator[Felt]:
    """What a person who is carried through the barrel meets."""
    results = solved.results
    length = spread(culvert.parts.length(solved.numbers), len(solved.level))
    yield Felt(BARREL, "length_m", "length of the barrel", "m", length)
    yield Felt(BARREL, "velocity_m_s", "greatest velocity in the barrel", "m/s", results["velocity_most"])
    time = results["transit_time"]
    yield Felt(BARREL, "transit_time_s", "time that the water takes through the barrel", "s", time)
    air = _free_air(culvert, solved)
    yield Felt(BARREL, "free_air_m", "free air in the barrel, at its least", "m", air)


def _free_air(culvert: Culvert, solved: Solved) -> Array:
    """Least height of air along the barrel [m]; where nothing flows in it, over the water that stands in its outlet."""
    results, numbers, last = solved.results, solved.numbers, len(culvert.joined)
    room = culvert.rooms(numbers, len(solved.level), last)["clear_height"]
    bed = numbers[f"{culvert.parts.last}.downstream_invert_m"] + culvert.silt(numbers, len(solved.level), last)
    over_still = room - np.maximum(solved.tailwater - bed, 0.0)
    free = np.where(results["barrel_flow"] <= 0.0, over_still, results["free_height"])
    return np.asarray(np.maximum(free, 0.0))


def _waters(culvert: Culvert, solved: Solved) -> Iterator[Wading]:
    """Water before the screen or inlet, over the road, and over the bank."""
    own, level, results, numbers = culvert.id, solved.level, solved.results, solved.numbers
    if culvert.has_screen:
        depth = np.maximum(level - numbers[f"{own}.screen.sill_level_m"], 0.0)
        yield Wading("before the screen", depth, results["screen_velocity"])
    else:
        depth = np.maximum(level - numbers[f"{own}.barrel.upstream_invert_m"], 0.0)
        yield Wading("before the inlet", depth, results["velocity_in"])
    if culvert.has_road:
        unit_flow = results["road_flow"] / numbers[f"{own}.road.length_m"]
        yield _over_crest("over the road", unit_flow, solved.tailwater - numbers[f"{own}.road.level_m"])
    bank = numbers.get(f"{own}.bank_level_m")
    if bank is not None:
        yield over_bank(level - bank)


def _over_crest(place: str, unit_flow: Array, drowned_depth: Array) -> Wading:
    """Water over a level crest: at critical depth, or as deep as the water below where that stands higher."""
    wet = unit_flow > 0.0
    depth = np.where(wet, np.maximum(sweep(people.crest_depth)(unit_flow), drowned_depth), 0.0)
    velocity = np.where(wet, unit_flow / np.where(wet, depth, 1.0), 0.0)
    unknown = np.isnan(unit_flow)
    return Wading(place, np.where(unknown, np.nan, depth), np.where(unknown, np.nan, velocity))
