"""Blockage from its causes: debris builds up, the bars are raked, a flood brings more, a crew may come in time.

Between rakings the blocked share grows towards a ceiling C, dB/dt = r (1 - B/C), from 0 after a full raking:

    B = C (1 - e^-y),      y = r t / C

so that y, what has come against what it takes to near the ceiling, simply adds up: over the dry days since the last
raking, and over the hours of the flood until its peak. The flood comes at a random moment. Then the dry part of y is

    raked every T days                    uniform between 0 and h = r T / C
    raked at random, every T on average   exponential with the mean h

and the flood adds the same amount to every one of them. With the chance `attended` a crew rakes the bars clean in the
flood, up to the hours before the peak from which nobody may go near; only what comes after that is on the bars at the
peak. With the chance `at_one` something large shuts the bars altogether, whatever was on them.

It counts debris up to the peak of the flood only. What comes afterwards, while the water is still high, is in a flood
in time (`flow.debris`), which then begins from what is blocked before it.

Own proposal, not published; the closed forms are derived here and held against simulation by the tests. Raked at random
and without a flood, B / C has the beta distribution with a = 1 and b = 1 / h.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from overbank.uncertain.checks import expect, expect_finite, expect_positive
from overbank.uncertain.distributions import Family
from overbank.uncertain.scores import Values, as_values, chance_below, score_in_part, score_in_whole, score_of_chance


@dataclass(frozen=True)
class BuildUp(Family):
    """Blocked share when a flood peaks, from build-up, raking, and attendance in the flood.

    Parameters
    ----------
    rate_per_day : r, blocked share that clean bars gain in a day [1/day]
    ceiling : C, share that the debris tends to and never passes [-]
    raked_every_days : T, between two full rakings [days]
    at_one : chance that something large shuts the bars in the flood [-]
    flood_rate_per_hour : r in the flood [1/hour]
    flood_hours : from the first debris of the flood to its peak [hours]
    attended : chance that a crew comes in the flood and rakes the bars clean [-]
    unattended_hours : before the peak, from which nobody may go near [hours]
    at_random : whether the rakings come at random times, T being their mean interval
    """

    rate_per_day: float
    ceiling: float
    raked_every_days: float
    at_one: float = 0.0
    flood_rate_per_hour: float = 0.0
    flood_hours: float = 0.0
    attended: float = 0.0
    unattended_hours: float = 0.0
    at_random: bool = False

    @classmethod
    def raked_at_random(
        cls,
        rate_per_day: float,
        ceiling: float,
        raked_on_average_every_days: float,
        at_one: float = 0.0,
        flood_rate_per_hour: float = 0.0,
        flood_hours: float = 0.0,
        attended: float = 0.0,
        unattended_hours: float = 0.0,
    ) -> Self:
        """Raked at random times, as somebody finds the time for it."""
        flood = (flood_rate_per_hour, flood_hours, attended, unattended_hours)
        return cls(rate_per_day, ceiling, raked_on_average_every_days, at_one, *flood, at_random=True)

    def __post_init__(self) -> None:
        interval = "raked_on_average_every_days" if self.at_random else "raked_every_days"
        expect_positive(rate_per_day=self.rate_per_day, ceiling=self.ceiling, **{interval: self.raked_every_days})
        expect(self.ceiling <= 1.0, "ceiling above 0 and not above 1", self.ceiling)
        for name in ("at_one", "attended"):
            chance = getattr(self, name)
            expect(0.0 <= chance <= 1.0, f"{name} between 0 and 1", chance)
        for name in ("flood_rate_per_hour", "flood_hours", "unattended_hours"):
            expect_finite(**{name: getattr(self, name)})
            expect(getattr(self, name) >= 0.0, f"{name} of 0 or more", getattr(self, name))
        most = f"unattended_hours not above flood_hours, {self.flood_hours:g}"
        expect(self.unattended_hours <= self.flood_hours, most, self.unattended_hours)

    @property
    def _interval(self) -> float:
        """h = r T / C, the y of a whole interval between rakings."""
        return self.rate_per_day * self.raked_every_days / self.ceiling

    @property
    def _brought(self) -> float:
        """What the whole flood adds to y."""
        return self.flood_rate_per_hour * self.flood_hours / self.ceiling

    @property
    def _left(self) -> float:
        """Blocked share of bars that were raked in the flood as late as anybody may."""
        return float(self._blocked(self.flood_rate_per_hour * self.unattended_hours / self.ceiling))

    @property
    def _raked(self) -> float:
        """Probability that the bars were raked in the flood, and not shut."""
        return (1.0 - self.at_one) * self.attended

    @property
    def _edges(self) -> tuple[float, float]:
        """Normal scores between which the bars were neither raked in the flood nor shut."""
        low = float(ndtri(self._raked))
        return low, max(low, float(-ndtri(self.at_one)))

    def _blocked(self, y: ArrayLike) -> Values:
        return as_values(-self.ceiling * np.expm1(-as_values(y)))

    def _dry(self, z: Values) -> Values:
        """y of the dry days at their normal score z."""
        near = chance_below(-np.abs(z))  # the chance of the nearer end
        if self.at_random:
            with np.errstate(divide="ignore"):
                return -self._interval * np.where(z < 0.0, np.log1p(-near), np.log(near))
        return self._interval * np.where(z < 0.0, near, 1.0 - near)

    def _dry_score(self, y: Values) -> Values:
        """Normal score of the chance that the dry days have brought no more than y."""
        held = np.maximum(y / self._interval, 0.0)
        if self.at_random:
            return score_of_chance(-np.expm1(-held), np.exp(-held))
        return score_of_chance(np.minimum(held, 1.0), np.maximum(1.0 - held, 0.0))

    def _decay(self, power: int) -> float:
        """Mean of e^(-power y) over the dry days."""
        step = power * self._interval
        return 1.0 / (1.0 + step) if self.at_random else -math.expm1(-step) / step

    def value(self, z: ArrayLike) -> Values:
        z = as_values(z)
        low, high = self._edges
        inside = self._blocked(self._brought + self._dry(score_in_part(z, low, high)))
        raked = (z <= low) & (self._raked > 0.0)
        return np.where(raked, self._left, np.where(z > high, 1.0, inside))

    def _inside(self, x: Values) -> Values:
        """Normal score of P(X <= x) below 1, from where there is any chance."""
        with np.errstate(divide="ignore"):
            y = -np.log1p(-np.clip(x / self.ceiling, 0.0, 1.0))
        return score_in_whole(self._dry_score(y - self._brought), *self._edges)

    def score(self, x: ArrayLike) -> Values:
        x = as_values(x)
        return np.where(x < self._left, -np.inf, np.where(x >= 1.0, np.inf, self._inside(x)))

    def score_below(self, x: ArrayLike) -> Values:
        x = as_values(x)
        return np.where(x <= self._left, -np.inf, np.where(x > 1.0, np.inf, self._inside(x)))

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        ends = ((self._left, self._raked), (1.0, self.at_one))
        return tuple((value, chance) for value, chance in ends if chance > 0.0)

    @property
    def support(self) -> tuple[float, float]:
        return (1.0, 1.0) if self.at_one >= 1.0 else super().support

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return self._moments[0]

    @property
    def sd(self) -> float:
        mean, square = self._moments
        return math.sqrt(max(square - mean**2, 0.0))

    @property
    def _moments(self) -> tuple[float, float]:
        """Mean of B and of its square."""
        rest = 1.0 - self.at_one - self._raked
        once, twice = (math.exp(-power * self._brought) * self._decay(power) for power in (1, 2))
        mean = self.at_one + self._raked * self._left + rest * self.ceiling * (1.0 - once)
        square = self.at_one + self._raked * self._left**2 + rest * self.ceiling**2 * (1.0 - 2.0 * once + twice)
        return mean, square

    @property
    def words(self) -> str:
        every = "at random, on average every" if self.at_random else "every"
        said = [
            f"builds up by {100.0 * self.rate_per_day:.3g} % a day towards {100.0 * self.ceiling:.3g} %, "
            f"raked {every} {self.raked_every_days:g} days"
        ]
        if self._brought > 0.0:
            rate, hours = 100.0 * self.flood_rate_per_hour, self.flood_hours
            said.append(f"{rate:.3g} % an hour over {hours:g} hours of flood, to its peak only")
        if self._raked > 0.0:
            said.append(f"raked in the flood with probability {self.attended:g}{self._until}")
        if self.at_one > 0.0:
            said.append(f"shut with probability {self.at_one:g}")
        return "; ".join(said)

    @property
    def _until(self) -> str:
        return f" up to {self.unattended_hours:g} hours before its peak" if self.unattended_hours > 0.0 else ""
