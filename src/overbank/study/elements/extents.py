"""Quantities with how far they reach, and whether one stays above another.

Two numbers that must keep an order are held to it at their medians; at the ends of their supports where both
have ends; and otherwise so that the order fails in no more than about 1 sample in 1000 (3 standard deviations
of the difference, the two taken as independent).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from overbank.study.reading.lines import KeyPath
from overbank.study.reading.numbers import Number
from overbank.study.reading.readable import Readable
from overbank.study.reading.refusals import LocatedRefusal, number, refusal

REACH = 3.0
ROUND_OFF = 1e-9
"""Medians that differ by less than this share are the same: 0.9 comes of 11.0 less 10.1 only nearly."""


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

    @classmethod
    def certain(cls, words: str, value: float) -> Extent:
        return cls(words, value, value, value, True)

    def plus(self, words: str, other: Extent) -> Extent:
        """The sum of two quantities."""
        return Extent(
            words,
            self.median + other.median,
            self.low + other.low,
            self.high + other.high,
            self.closed and other.closed,
        )

    def minus(self, words: str, other: Extent) -> Extent:
        """The difference of two quantities."""
        return self.plus(words, Extent("", -other.median, -other.high, -other.low, other.closed))

    def times(self, other: Extent) -> Extent:
        """The product with a quantity that is never negative."""
        corners = [mine * yours for mine in (self.low, self.high) for yours in (other.low, other.high)]
        closed = self.closed and other.closed
        return Extent(self.words, self.median * other.median, min(corners), max(corners), closed)


def out_of_order(upper: Extent, lower: Extent, *, equal: bool = False) -> str:
    """What is wrong when `upper` does not stay above `lower` (or `equal` to it); empty when it does."""
    gap = upper.median - lower.median
    if abs(gap) <= ROUND_OFF * max(abs(upper.median), abs(lower.median)):
        gap = 0.0
    if gap < 0 or (gap == 0 and not equal):
        return f"{upper.words} {number(upper.median)} against {lower.words} {number(lower.median)}"
    down, up = upper.median - upper.low, lower.high - lower.median
    reach = down + up if upper.closed and lower.closed else math.hypot(down, up)
    if reach > 0 and (gap < reach * (1 - 1e-9) or (gap <= reach and not equal)):
        return f"{upper.words} down to {number(upper.low)} against {lower.words} up to {number(lower.high)}"
    return ""


@dataclass(frozen=True)
class Reader:
    """The quantities of one element of a study that may have faults."""

    study: Readable
    path: KeyPath

    def get(self, words: str, *keys: str | int) -> Extent | None:
        read = self.study.numbers.get((*self.path, *keys))
        return None if read is None else Extent.of(words, read)

    def any_of(self, words: str, table: str | tuple[str | int, ...], *keys: str) -> tuple[str, Extent] | None:
        """The first of several keys of a table that gives a sound number, with it."""
        place = (table,) if isinstance(table, str) else table
        found = ((key, self.get(words, *place, key)) for key in keys)
        return next(((key, extent) for key, extent in found if extent is not None), None)

    def order(
        self, keys: tuple[str | int, ...], words: str, lower: Extent | None, expected: str
    ) -> Iterator[LocatedRefusal]:
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
