"""A record of floods that is more than a list: a period before it, years that were all but dry, low outliers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from overbank.uncertain.scores import Values

GRINGORTEN = 0.44
"""Plotting constant (Gringorten, J. Geophys. Res. 68 (1963) 813; from memory, unverified; for pictures only)."""

DRAWS = 4_000_000
"""Normal numbers drawn for the chances of low outliers."""

OUTWARD, INWARD = 0.005, 0.10
"""Significances of the two sweeps of the multiple Grubbs-Beck test (Bulletin 17C; from memory, unverified)."""


@dataclass(frozen=True)
class Historic:
    """What is known of the years before the record.

    years : how many; threshold : a flood above this would have been noticed [m3/s]
    floods : those whose flow is known [m3/s]; more : how many more were above, of unknown flow
    """

    years: int
    threshold: float
    floods: tuple[float, ...] = ()
    more: int = 0

    @property
    def quiet(self) -> int:
        """Years in which nothing was noticed."""
        return self.years - len(self.floods) - self.more


@dataclass(frozen=True)
class FloodRecord:
    """Annual maxima [m3/s], of which those below a floor count as being below it and no more, and what was before.

    Source of the terms: a year of which only a bound is known is not missing, it contributes the probability of that
    bound (Stedinger and Cohn, Water Resour. Res. 22 (1986) 785; from memory, unverified).
    """

    maxima: tuple[float, ...]
    floor: float = 0.0
    historic: Historic | None = None

    @property
    def years(self) -> int:
        """Length of the record, the years before it included."""
        return len(self.maxima) + (0 if self.historic is None else self.historic.years)

    @property
    def least(self) -> float:
        """The floor; where there is none and some years have no flow, the least flow above nothing."""
        if self.floor > 0.0 or min(self.maxima) > 0.0:
            return self.floor
        return min(flow for flow in self.maxima if flow > 0.0)

    @property
    def exact(self) -> Values:
        """Flows that are known, rising."""
        past = () if self.historic is None else self.historic.floods
        return np.sort([*(flow for flow in self.maxima if flow >= self.least), *past])

    @property
    def below(self) -> tuple[tuple[float, int], ...]:
        """Bounds, and in how many years the flow stayed below each."""
        low = sum(flow < self.least for flow in self.maxima)
        past = self.historic
        quiet = [] if past is None or not past.quiet else [(past.threshold, past.quiet)]
        return (*([(self.least, low)] if low else []), *quiet)

    @property
    def above(self) -> tuple[tuple[float, int], ...]:
        """Bounds, and how many floods of unknown flow were above each."""
        past = self.historic
        return () if past is None or not past.more else ((past.threshold, past.more),)

    @property
    def words(self) -> str:
        """What it holds."""
        said = [f"{len(self.maxima)} annual maxima"]
        if low := sum(flow < self.least for flow in self.maxima):
            said[0] += f", {low} of them known only as below {self.least:g} m³/s"
        if (past := self.historic) is not None:
            said.append(
                f"{len(past.floods) + past.more} floods above {past.threshold:g} m³/s in the {past.years} years before"
            )
        return " and ".join(said)

    def points(self) -> tuple[Values, Values]:
        """Known flows, rising, and the annual probability at which each is plotted.

        With one threshold, r of all n years above it: the j-th largest of these at (r/n)(j - a)/(r + 1 - 2a), the j-th
        below it at r/n + (1 - r/n)(j - a)/(m + 1 - 2a), m being the years of the record below it.

        Source: Hirsch and Stedinger, Water Resour. Res. 23 (1987) 715; from memory, unverified.
        """
        flows, a = self.exact[::-1], GRINGORTEN
        if (past := self.historic) is None:
            rank = np.arange(1, flows.size + 1, dtype=np.float64)
            return flows[::-1], ((rank - a) / (len(self.maxima) + 1.0 - 2.0 * a))[::-1]
        known = int(np.sum(flows >= past.threshold))
        over, all_years = known + past.more, past.years + len(self.maxima)
        share, under = over / all_years, len(self.maxima) - sum(flow >= past.threshold for flow in self.maxima)
        first, rest = np.arange(1, known + 1), np.arange(1, flows.size - known + 1)
        high = share * (first - a) / (over + 1.0 - 2.0 * a)
        low = share + (1.0 - share) * (rest - a) / (under + 1.0 - 2.0 * a)
        return flows[::-1], np.concatenate([high, low])[::-1]


@dataclass(frozen=True)
class Peaks:
    """Peaks of floods over a threshold [m3/s], in so many years.

    Floods over a flow q come at random at a rate L(q) a year (Poisson), so that F(q) = exp(-L(q)) is the distribution
    of the annual maxima: the same families, told by every flood instead of one a year. Where the annual maxima are GEV
    the excess over the threshold is generalised Pareto of the same shape, where they are Gumbel it is exponential.

    Source: Coles 2001, An Introduction to Statistical Modeling of Extreme Values, chapters 4 and 7; from memory,
    unverified. The tests hold it against SciPy's genpareto.
    """

    peaks: tuple[float, ...]
    threshold: float
    watched: float

    @property
    def years(self) -> int:
        """Length of the record, to the nearest year."""
        return max(round(self.watched), 1)

    @property
    def rate(self) -> float:
        """Floods a year."""
        return len(self.peaks) / self.watched

    @property
    def exact(self) -> Values:
        """Flows that are known, rising."""
        return np.sort(self.peaks)

    @property
    def below(self) -> tuple[tuple[float, float], ...]:
        """That every other flood stayed below the threshold: ln L has -L(u) for each year."""
        return ((self.threshold, self.watched),)

    @property
    def above(self) -> tuple[tuple[float, int], ...]:
        """No flood of unknown flow."""
        return ()

    @property
    def words(self) -> str:
        """What it holds."""
        return (
            f"{len(self.peaks)} peaks over {self.threshold:g} m³/s in {self.watched:g} years ({self.rate:.2g} a year)"
        )

    def points(self) -> tuple[Values, Values]:
        """Known flows, rising, and the annual probability at which each is plotted: 1 - exp(-rate of its rank)."""
        rank = np.arange(len(self.peaks), 0, -1, dtype=np.float64)
        share = (rank - GRINGORTEN) / (len(self.peaks) + 1.0 - 2.0 * GRINGORTEN)
        return self.exact, -np.expm1(-self.rate * share)


@dataclass(frozen=True)
class LowOutliers:
    """What the multiple Grubbs-Beck test finds: how many of the least flows stand out, and the least that does not."""

    count: int
    threshold: float


@lru_cache(maxsize=16)
def low_outliers(flows: tuple[float, ...]) -> LowOutliers:
    """The multiple Grubbs-Beck test on the logarithms of positive flows.

    The r-th smallest stands w = (x - mean)/sd from those above it. Its chance is that of a w as low in as many normal
    numbers, found by drawing them with a fixed seed. Sweeping outward from the median the largest r with a chance
    below 0.005 counts, sweeping inward from the first every one until a chance reaches 0.10.

    Source: Cohn et al., Water Resour. Res. 49 (2013) 5047, and Bulletin 17C; steps from memory, unverified.
    """
    logs = np.sort(np.log10(flows))
    draws = np.random.default_rng(17).standard_normal((max(2000, DRAWS // logs.size), logs.size))
    draws.sort(axis=1)
    half = logs.size // 2
    seen = [float(_distance(logs[np.newaxis], r)[0]) for r in range(half)]
    chances = [float(np.mean(_distance(draws, r) <= seen[r])) for r in range(half)]
    outward = max((r + 1 for r, chance in enumerate(chances) if chance < OUTWARD), default=0)
    inward = next((r for r, chance in enumerate(chances) if chance >= INWARD), half)
    count = max(outward, inward)
    return LowOutliers(count, float(10.0 ** logs[count]))


def _distance(rising: NDArray[np.float64], r: int) -> Values:
    """How far the r-th of each row, from 0, stands from those above it, in their standard deviations."""
    above = rising[:, r + 1 :]
    found: Values = (rising[:, r] - above.mean(axis=1)) / above.std(axis=1, ddof=1)
    return found
