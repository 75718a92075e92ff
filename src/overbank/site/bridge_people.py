"""Water that people may stand in at a bridge: over its deck, over its approach road and over its bank."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from overbank.site.people import AtStructure, Wading, over_bank, over_road
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
