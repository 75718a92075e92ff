"""Geometry that cannot be, at the medians and wherever the distributions reach.

Two numbers that must keep an order are held to it at their medians; at the ends of their supports where both
have ends; and otherwise so that the order fails in no more than about 1 sample in 1000 (3 standard deviations
of the difference, the two taken as independent).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from overbank.study.lines import KeyPath
from overbank.study.numbers import Number
from overbank.study.readable import Readable
from overbank.study.refusals import LocatedRefusal, number, refusal

REACH = 3.0


@dataclass(frozen=True)
class Extent:
    """A quantity with its median and how far it reaches; `closed` when it cannot go further."""

    words: str
    median: float
    low: float
    high: float
    closed: bool

    @classmethod
    def of(cls, words: str, read: Number) -> Extent:
        return cls(words, read.median, read.at_score(-REACH), read.at_score(REACH), all(read.ends()))

    def plus(self, words: str, other: Extent) -> Extent:
        """The sum of two quantities."""
        return Extent(
            words,
            self.median + other.median,
            self.low + other.low,
            self.high + other.high,
            self.closed and other.closed,
        )

    def times(self, other: Extent) -> Extent:
        """The product with a quantity that is never negative."""
        corners = [mine * yours for mine in (self.low, self.high) for yours in (other.low, other.high)]
        closed = self.closed and other.closed
        return Extent(self.words, self.median * other.median, min(corners), max(corners), closed)


def out_of_order(upper: Extent, lower: Extent, *, equal: bool = False) -> str:
    """What is wrong when `upper` does not stay above `lower` (or `equal` to it); empty when it does."""
    gap = upper.median - lower.median
    if gap < 0 or (gap == 0 and not equal):
        return f"{upper.words} {number(upper.median)} against {lower.words} {number(lower.median)}"
    down, up = upper.median - upper.low, lower.high - lower.median
    reach = down + up if upper.closed and lower.closed else math.hypot(down, up)
    if reach > 0 and (gap < reach * (1 - 1e-9) or (gap <= reach and not equal)):
        return f"{upper.words} down to {number(upper.low)} against {lower.words} up to {number(lower.high)}"
    return ""


def impossible_geometry(study: Readable) -> Iterator[LocatedRefusal]:
    """Every pair of sound numbers that cannot stand together."""
    below: Extent | None = None
    for index, element in study.elements():
        reader = _Element(study, ("element", index))
        if element.get("kind") == "culvert":
            yield from _culvert(reader)
            below = reader.get("bed", "barrel", "upstream_invert_m")
        elif element.get("kind") == "channel":
            top = _channel_top(reader, element, below)
            yield from reader.order(("bank_level_m",), "bank", top, "a bank above the bed at its upstream end")
            below = top
        else:
            below = None


@dataclass(frozen=True)
class _Element:
    study: Readable
    path: KeyPath

    def get(self, words: str, *keys: str) -> Extent | None:
        read = self.study.numbers.get((*self.path, *keys))
        return None if read is None else Extent.of(words, read)

    def order(self, keys: tuple[str, ...], words: str, lower: Extent | None, expected: str) -> Iterator[LocatedRefusal]:
        """A number must stay above a quantity."""
        upper = self.get(words, *keys)
        wrong = out_of_order(upper, lower) if upper and lower else ""
        if wrong:
            yield (*self.path, *keys), refusal(expected, wrong, remedy(wrong))


def remedy(wrong: str) -> str:
    """What to do about two numbers out of order."""
    if "down to" in wrong:
        return "Narrow the distributions, or cut them off with low and high."
    return "Correct one of the two."


def _culvert(reader: _Element) -> Iterator[LocatedRefusal]:
    inlet = reader.get("inlet invert", "barrel", "upstream_invert_m")
    outlet = reader.get("outlet invert", "barrel", "downstream_invert_m")
    if inlet and outlet and (wrong := out_of_order(inlet, outlet, equal=True)):
        expected = "an outlet invert not above the inlet invert"
        yield (*reader.path, "barrel", "downstream_invert_m"), refusal(expected, wrong, remedy(wrong))
    yield from reader.order(("bank_level_m",), "bank", inlet, "a bank above the inlet invert")
    yield from reader.order(("road", "level_m"), "road", inlet, "a road above the inlet invert")
    yield from _arch(reader)
    yield from _screen(reader, inlet)


def _arch(reader: _Element) -> Iterator[LocatedRefusal]:
    wall = reader.get("wall height", "barrel", "wall_height_m")
    yield from reader.order(("barrel", "rise_m"), "rise", wall, "a rise above the height of the walls")
    rise, span = reader.get("rise", "barrel", "rise_m"), reader.get("span", "barrel", "span_m")
    if not (wall and rise and span):
        return
    half = Extent("half the span", span.median / 2, span.low / 2, span.high / 2, span.closed)
    limit = half.plus("wall height and half the span", wall)
    if rise.median > wall.median and (wrong := out_of_order(limit, rise, equal=True)):
        expected = "a crown that is no more than a semicircle: rise not above wall height + span / 2"
        yield (*reader.path, "barrel", "rise_m"), refusal(expected, wrong, remedy(wrong))


def _screen(reader: _Element, inlet: Extent | None) -> Iterator[LocatedRefusal]:
    path = (*reader.path, "screen", "sill_level_m")
    sill, height = reader.get("sill", "screen", "sill_level_m"), reader.get("height", "screen", "height_m")
    if not sill:
        return
    for keys, words in ((("bank_level_m",), "bank"), (("road", "level_m"), "road")):
        above = reader.get(words, *keys)
        if above and (wrong := out_of_order(above, sill)):
            yield path, refusal(f"a sill below the {words}", wrong, remedy(wrong))
    if height and inlet:
        top = sill.plus("top of the screen", height)
        if wrong := out_of_order(top, inlet):
            yield path, refusal("a screen whose top is above the inlet invert", wrong, remedy(wrong))


def _channel_top(reader: _Element, element: dict[str, Any], below: Extent | None) -> Extent | None:
    """The bed at the upstream end of a channel; its downstream end lies on what is below unless given."""
    foot = reader.get("bed", "bed_level_m") if "bed_level_m" in element else below
    slope, length = reader.get("slope", "bed_slope"), reader.get("length", "length_m")
    if not (foot and slope and length):
        return None
    return foot.plus("bed", slope.times(length))
