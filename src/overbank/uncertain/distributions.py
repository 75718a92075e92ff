"""What every distribution can do, and the four simplest families.

A distribution turns a normal score z into a physical value, value(z) = F^-1(Phi(z)), and back. The closed
forms here are the textbook ones; the tests hold them against SciPy's distributions.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from overbank.uncertain.checks import expect, expect_finite, expect_mode, expect_positive, expect_range
from overbank.uncertain.scores import Values, as_values, chance_below, score_of_chance


class Distribution(Protocol):
    """One uncertain number. Arrays of any shape; single numbers are welcome too."""

    def value(self, z: ArrayLike) -> Values:
        """Physical value at the normal score z; never falls as z rises."""
        ...

    def score(self, x: ArrayLike) -> Values:
        """Normal score of P(X <= x); -inf below the support, +inf from its upper end."""
        ...

    def score_below(self, x: ArrayLike) -> Values:
        """Normal score of P(X < x): differs from `score` only at an atom."""
        ...

    def cdf(self, x: ArrayLike) -> Values:
        """P(X <= x)."""
        ...

    def quantile(self, p: ArrayLike) -> Values:
        """The smallest x with P(X <= x) >= p."""
        ...

    @property
    def median(self) -> float:
        """value(0)."""
        ...

    @property
    def mean(self) -> float:
        """Expected value; may be infinite."""
        ...

    @property
    def sd(self) -> float:
        """Standard deviation; may be infinite."""
        ...

    @property
    def support(self) -> tuple[float, float]:
        """Smallest and largest possible value; may be infinite."""
        ...

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        """Values that have a probability of their own, rising, each with that probability."""
        ...

    @property
    def words(self) -> str:
        """The distribution in plain language, for a report."""
        ...


class Family(ABC):
    """What all families share; a family with atoms overrides `score_below` and `atoms`."""

    @abstractmethod
    def value(self, z: ArrayLike) -> Values:
        """Physical value at the normal score z."""

    @abstractmethod
    def score(self, x: ArrayLike) -> Values:
        """Normal score of P(X <= x)."""

    def score_below(self, x: ArrayLike) -> Values:
        return self.score(x)

    def cdf(self, x: ArrayLike) -> Values:
        return chance_below(self.score(x))

    def quantile(self, p: ArrayLike) -> Values:
        return self.value(ndtri(as_values(p)))

    @property
    def support(self) -> tuple[float, float]:
        return float(self.value(-np.inf)), float(self.value(np.inf))

    @property
    def atoms(self) -> tuple[tuple[float, float], ...]:
        return ()


@dataclass(frozen=True)
class Normal(Family):
    """Normal: value = mean + sd z."""

    mean: float
    sd: float

    def __post_init__(self) -> None:
        expect_finite(mean=self.mean)
        expect_positive(sd=self.sd)

    def value(self, z: ArrayLike) -> Values:
        return self.mean + self.sd * as_values(z)

    def score(self, x: ArrayLike) -> Values:
        return (as_values(x) - self.mean) / self.sd

    @property
    def median(self) -> float:
        return self.mean

    @property
    def words(self) -> str:
        return f"normal, mean {self.mean:g}, standard deviation {self.sd:g}"


@dataclass(frozen=True)
class Lognormal(Family):
    """Lognormal: value = median exp(s z), with s^2 = ln(1 + cov^2).

    Parameters
    ----------
    median : median, exp of the mean of ln X
    cov : coefficient of variation, standard deviation over mean, of X itself (not of ln X) [-]
    """

    median: float
    cov: float

    def __post_init__(self) -> None:
        expect_positive(median=self.median, cov=self.cov)
        expect(self.log_sd > 0.0, "a coefficient of variation large enough to count", self.cov)

    @classmethod
    def from_mean(cls, mean: float, sd: float) -> Lognormal:
        """Lognormal with this mean and standard deviation of X itself."""
        expect_positive(mean=mean, sd=sd)
        cov = sd / mean
        return cls(median=mean / math.hypot(1.0, cov), cov=cov)

    @property
    def log_sd(self) -> float:
        """Standard deviation of ln X, s = sqrt(ln(1 + cov^2)) [-]."""
        return math.sqrt(math.log1p(self.cov**2))

    def value(self, z: ArrayLike) -> Values:
        return self.median * np.exp(self.log_sd * as_values(z))

    def score(self, x: ArrayLike) -> Values:
        with np.errstate(divide="ignore"):
            return np.log(np.maximum(as_values(x), 0.0) / self.median) / self.log_sd

    @property
    def mean(self) -> float:
        return self.median * math.hypot(1.0, self.cov)

    @property
    def sd(self) -> float:
        return self.mean * self.cov

    @property
    def words(self) -> str:
        return f"lognormal, median {self.median:g}, coefficient of variation {self.cov:g}"


@dataclass(frozen=True)
class Uniform(Family):
    """Uniform between low and high."""

    low: float
    high: float

    def __post_init__(self) -> None:
        expect_range(self.low, self.high)

    def value(self, z: ArrayLike) -> Values:
        z = as_values(z)
        step = (self.high - self.low) * chance_below(-np.abs(z))  # from the nearer end
        return np.where(z < 0, self.low + step, self.high - step)

    def score(self, x: ArrayLike) -> Values:
        held = np.clip(as_values(x), self.low, self.high)
        return score_of_chance((held - self.low) / (self.high - self.low), (self.high - held) / (self.high - self.low))

    @property
    def median(self) -> float:
        return self.mean

    @property
    def mean(self) -> float:
        return 0.5 * (self.low + self.high)

    @property
    def sd(self) -> float:
        return (self.high - self.low) / math.sqrt(12.0)

    @property
    def words(self) -> str:
        return f"uniform between {self.low:g} and {self.high:g}"


@dataclass(frozen=True)
class Triangular(Family):
    """Triangular: density rising from low to mode, then falling to high; the mode may be at either end."""

    low: float
    mode: float
    high: float

    def __post_init__(self) -> None:
        expect_mode(self.low, self.mode, self.high)

    def value(self, z: ArrayLike) -> Values:
        z = as_values(z)
        width, rise, fall = self.high - self.low, self.mode - self.low, self.high - self.mode
        rising = z <= ndtri(rise / width)
        tail = chance_below(np.where(rising, z, -z))
        step = np.sqrt(tail * width * np.where(rising, rise, fall))  # from the nearer end
        value = np.where(rising, self.low + step, self.high - step)
        return np.where(rising, np.minimum(value, self.mode), np.maximum(value, self.mode))

    def score(self, x: ArrayLike) -> Values:
        held = np.clip(as_values(x), self.low, self.high)
        width, rise, fall = self.high - self.low, self.mode - self.low, self.high - self.mode
        climbed, left = np.minimum(held, self.mode) - self.low, self.high - np.maximum(held, self.mode)
        below = (climbed / width) * (climbed / (rise or 1.0))
        above = (left / width) * (left / (fall or 1.0))
        rising = held <= self.mode
        return score_of_chance(np.where(rising, below, 1.0 - above), np.where(rising, 1.0 - below, above))

    @property
    def median(self) -> float:
        return float(self.value(0.0))

    @property
    def mean(self) -> float:
        return (self.low + self.mode + self.high) / 3.0

    @property
    def sd(self) -> float:
        rise, fall = self.mode - self.low, self.high - self.mode
        return math.sqrt((rise**2 + rise * fall + fall**2) / 18.0)

    @property
    def words(self) -> str:
        return f"triangular between {self.low:g} and {self.high:g}, most likely {self.mode:g}"
