"""The design flood by plain sampling: overtopping, levels, blockage set to a value, allowance, and what marks teach."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from referee import drawing, figures
from referee.drawing import Draw
from referee.families import Array
from referee.figures import Figure
from referee.halving import found_by_halving
from referee.reading import DESIGN, Reading
from referee.site_adapter import SiteFunction

HALVINGS, FINE = 12, 24
"""Of the range of a blockage: in every sample, and in the one run at the medians."""

FAR = 3.5
"""Errors within which the referee cannot tell whether there is an answer."""


@dataclass(frozen=True)
class DesignFlood:
    """Samples of every uncertain number in the design flood, and the site."""

    reading: Reading
    site: SiteFunction
    draw: Draw
    seed: int

    @classmethod
    def of(cls, reading: Reading, site: SiteFunction, count: int, seed: int) -> DesignFlood:
        """Draw the samples."""
        return cls(reading, site, drawing.design(reading, np.random.default_rng([seed, 1]), count), seed)

    @cached_property
    def levels(self) -> Array:
        """Level of every sample [m]."""
        return self.site.level(self.draw.values, self.draw.count)

    @cached_property
    def banks(self) -> Array:
        """Bank of every sample [m]."""
        return self.site.bank(self.draw.values, self.draw.count)

    def overtopping(self) -> Figure:
        """P(level > bank)."""
        return figures.counted((self.levels > self.banks).astype(np.float64))

    def level(self, share: float) -> Figure:
        """Level not exceeded with a probability [m]."""
        return figures.quantile(self.levels, share)

    def set_to(self, blockage: str, share: float) -> Figure:
        """P(overtop) with the blockage set, all else as sampled."""
        values = self.draw.values | {blockage: np.full(self.draw.count, share)}
        over = self.site.level(values, self.draw.count) > self.banks
        return figures.counted(over.astype(np.float64))

    def largest(self, blockage: str) -> Figure:
        """Largest blockage from 0 to 1 with P(overtop | blockage set) within the target; none where 0 exceeds it.

        A quantile of the least blockages with which the samples go over, found by halving. Where clean bars are within
        the error of the target, 0 is as right an answer as none.
        """
        target, clean = self.reading.target, self.set_to(blockage, 0.0)
        if self.set_to(blockage, 1.0).value <= target:
            return figures.exact(1.0)
        if clean.value > target:
            near = clean.value - FAR * clean.below <= target
            return Figure(np.nan, 0.0, 0.0, 0.0 if near else np.nan)
        return figures.quantile(self.critical(blockage), target)

    def critical(self, blockage: str) -> Array:
        """Least blockage with which a sample goes over, of half of them: 0 where clean bars do, endless if none."""

        def over(share: Array, which: NDArray[np.intp]) -> NDArray[np.bool_]:
            values = {name: each[which] for name, each in self.draw.values.items()} | {blockage: share}
            return np.asarray(self.site.level(values, which.size) > self.banks[which])

        return found_by_halving(over, max(self.draw.count // 2, 1), (0.0, 1.0), (0.0, np.inf), HALVINGS)

    def allowance(self, blockage: str, level: Figure | None = None) -> Figure:
        """The blockage with which the run at the medians gives the level of the assurance; none where none does.

        An endless level is reached by no run; where the run at the medians is endless too when all is blocked, "all" is
        as right an answer as "none".
        """
        wanted, medians = level or self.level(self.reading.assurance), self.medians()
        middle = allowance_for(self.site, medians, blockage, wanted.value)
        if np.isnan(middle):
            return Figure(np.nan, 0.0, 0.0, self._nearly(blockage, wanted))
        low = allowance_for(self.site, medians, blockage, wanted.value - wanted.below)
        high = allowance_for(self.site, medians, blockage, wanted.value + wanted.above)
        below, above = middle - (0.0 if np.isnan(low) else low), (1.0 if np.isnan(high) else high) - middle
        return Figure(middle, below, above, perhaps_none=not np.isnan(self._nearly(blockage, wanted)))

    def _nearly(self, blockage: str, wanted: Figure) -> float:
        """The end of the range whose run at the medians is within the error of the level; nan where neither is."""
        for share in (0.0, 1.0):
            level = run(self.site, {**self.medians(), blockage: share})
            if wanted.value == level or -FAR * wanted.below <= level - wanted.value <= FAR * wanted.above:
                return share
        return np.nan

    def medians(self) -> dict[str, float]:
        """Every uncertain number at its median."""
        found = {number.path: number.median for number in self.reading.numbers}
        if DESIGN not in found:
            flows = self.draw.values.get(DESIGN)
            found |= {} if flows is None else {DESIGN: float(np.median(flows))}
        return found

    @cached_property
    def weights(self) -> Array:
        """Weight of every sample by the floods that were seen.

        What comes out anew, and the flow of that flood, are drawn for each flood seen, given what is the same in all.
        """
        rng, count = np.random.default_rng([self.seed, 2]), self.draw.count
        logs = np.zeros(count)
        for seen in self.reading.observations:
            values = self.draw.values | drawing.anew(self.reading, rng, self.draw)
            flow = seen.flow
            drawn = flow if isinstance(flow, float) else flow.values(rng.standard_normal(count), flow.given)
            values[DESIGN] = np.array(np.broadcast_to(drawn, (count,)))
            logs -= 0.5 * ((self.site.level(values, count, seen.at) - seen.level) / seen.sd) ** 2
        return np.asarray(np.exp(logs - logs.max()))

    def learnt_overtopping(self) -> Figure:
        """P(level > bank) after the floods that were seen."""
        return figures.weighted((self.levels > self.banks).astype(np.float64), self.weights)

    def learnt_level(self, share: float) -> Figure:
        """Level not exceeded with a probability, after the floods that were seen [m]."""
        return figures.quantile(self.levels, share, self.weights)

    def learnt_sd(self, path: str) -> Figure:
        """Standard deviation of a number after the floods that were seen."""
        values, weights = self.draw.values[path], self.weights
        middle = figures.weighted(values, weights).value
        variance = figures.weighted((values - middle) ** 2, weights)
        sd = float(np.sqrt(variance.value))
        return Figure(sd, variance.below / (2.0 * sd), variance.above / (2.0 * sd))


def allowance_for(site: SiteFunction, medians: Mapping[str, float], blockage: str, level: float) -> float:
    """The blockage with which one run at the medians gives a level; nan where none does."""
    if not np.isfinite(level):
        return np.nan
    if run(site, {**medians, blockage: 0.0}) > level or run(site, {**medians, blockage: 1.0}) < level:
        return np.nan
    low, high = 0.0, 1.0
    for _ in range(FINE):
        middle = 0.5 * (low + high)
        above = run(site, {**medians, blockage: middle}) >= level
        low, high = (low, middle) if above else (middle, high)
    return 0.5 * (low + high)


def run(site: SiteFunction, values: Mapping[str, float]) -> float:
    """Level of one run [m]."""
    return float(site.level(values, 1)[0])
