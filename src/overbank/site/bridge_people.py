"""Water that people may stand in at a bridge: over its deck, over its approach road and over its bank."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from overbank._jit import sweep
from overbank.hydraulics import people
from overbank.site.numbers import Array
from overbank.site.people import AtStructure, Wading
from overbank.site.structure import Solved

if TYPE_CHECKING:  # the bridge asks this part of itself
    from overbank.site.bridge import Bridge


def at_bridge(bridge: Bridge, solved: Solved) -> AtStructure:
    """The water over its crests; nobody is held on bars or carried through a barrel there."""
    return AtStructure(bridge.id, (), tuple(_waters(bridge, solved)))


def _waters(bridge: Bridge, solved: Solved) -> Iterator[Wading]:
    numbers = solved.numbers
    for crest, place, there in (
        ("deck.level_m", "over the deck", bridge.has_deck),
        ("approach_road.level_m", "over the approach road", bridge.has_approach_road),
    ):
        if there:
            level = numbers[f"{bridge.id}.{crest}"]
            yield over_road(place, solved.level - level, solved.tailwater - level)
    if (bank := numbers.get(f"{bridge.id}.bank_level_m")) is not None:
        yield over_bank(solved.level - bank)


def over_bank(head: Array) -> Wading:
    """Water over the bank, as over a broad crest: critical flow under the head, d = 2/3 h, v^2 = g d."""
    depth = 2.0 / 3.0 * np.maximum(head, 0.0)
    return Wading("over the bank", depth, sweep(people.crest_velocity)(depth))


def over_road(place: str, head: Array, below: Array) -> Wading:
    """Water over a broad crest under a head: critical, d = 2/3 h and v^2 = g d, or as deep as the water below.

    Where the water below stands higher the flow of the head is taken to go on undrowned, v = (2/3 h)^1.5 g^0.5 / d, at
    most; the head is that of the water upstream over the crest.

    Source: critical flow in a wide rectangular section, and continuity (closed forms).
    """
    critical = 2.0 / 3.0 * np.maximum(head, 0.0)
    depth = np.where(head > 0.0, np.maximum(critical, np.minimum(below, head)), critical)
    share = np.divide(critical, depth, out=np.ones_like(depth), where=(depth > 0.0) & np.isfinite(depth))
    return Wading(place, depth, sweep(people.crest_velocity)(critical) * share)
