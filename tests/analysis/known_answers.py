"""Models whose answer is known from outside overbank, and the points to try them on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy import integrate, stats
from scipy.special import betainc, betaincinv, ndtr, ndtri
from scipy.stats import qmc

Array = NDArray[np.float64]


def scores(replicates: int, samples: int, dimension: int, seed: int) -> Array:
    """Independent normal scores (R, n, d) from independently scrambled Sobol' points."""
    seeds = np.random.SeedSequence(seed).spawn(replicates)
    points = [qmc.Sobol(dimension, rng=np.random.default_rng(s)).random(samples) for s in seeds]
    return ndtri(np.clip(np.array(points), 2.0**-33, 1 - 2.0**-33))


# --- Ishigami: y = sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1, x uniform in (-pi, pi) ---
# Closed form: V1 = (1 + b pi^4/5)^2/2, V2 = a^2/8, V13 = 8 b^2 pi^8/225.

ISHIGAMI_FIRST = (0.313905191, 0.442411145, 0.0)
ISHIGAMI_TOTAL = (0.557588855, 0.442411145, 0.243683664)


def ishigami(z: Array) -> Array:
    x = np.pi * (2 * ndtr(z) - 1)
    return np.sin(x[..., 0]) * (1 + 0.1 * x[..., 2] ** 4) + 7 * np.sin(x[..., 1]) ** 2


# --- Sobol' g-function: prod (|4u - 2| + a)/(1 + a) ---
# Closed form: Vi = 1/(3 (1 + ai)^2), V = prod(1 + Vi) - 1, total = Vi prod_{j != i}(1 + Vj)/V.


def g_function(z: Array, a: Array) -> Array:
    return np.prod((np.abs(4 * ndtr(z) - 2) + a) / (1 + a), axis=-1)


def g_indices(a: Array) -> tuple[Array, Array]:
    part = 1 / (3 * (1 + a) ** 2)
    whole = np.prod(1 + part)
    return part / (whole - 1), part * whole / (1 + part) / (whole - 1)


# --- River with a dyke: Iooss & Lemaitre (2015), arXiv 1404.2405, inputs as in their Table 4 ---
# S = Zv + H - Hd - Cb, H = (Q/(B Ks sqrt((Zm - Zv)/L)))^0.6. Order Q Ks Zv Zm Hd Cb L B, independent.

RIVER_INPUTS = ("Q", "Ks", "Zv", "Zm", "Hd", "Cb", "L", "B")
RIVER_LARGEST_S = -3.6626  # all inputs at their worst ends


def _triangular(low: float, mode: float, high: float) -> Callable[[Array], Array]:
    """Inverse of the cumulative distribution (closed form; SciPy's is twenty times slower)."""
    share = (mode - low) / (high - low)

    def value(u: Array) -> Array:
        rising = low + np.sqrt(u * (high - low) * (mode - low))
        return np.where(u < share, rising, high - np.sqrt((1 - u) * (high - low) * (high - mode)))

    return value


_GUMBEL = stats.gumbel_r(loc=1013, scale=558)
_FLOW_BELOW, _FLOW_INSIDE = _GUMBEL.cdf(500), _GUMBEL.cdf(3000) - _GUMBEL.cdf(500)


def river_flow_score(flow: Array) -> Array:
    """Phi^-1(P(Q < flow))."""
    share = np.clip((_GUMBEL.cdf(flow) - _FLOW_BELOW) / _FLOW_INSIDE, 0, 1)
    return ndtri(share)


def river_inputs(z: Array) -> list[Array]:
    u = ndtr(z)
    roughness_below = ndtr((15 - 30) / 8)
    return [
        1013 - 558 * np.log(-np.log(_FLOW_BELOW + u[..., 0] * _FLOW_INSIDE)),
        30 + 8 * ndtri(roughness_below + u[..., 1] * (1 - roughness_below)),
        _triangular(49, 50, 51)(u[..., 2]),
        _triangular(54, 55, 56)(u[..., 3]),
        7 + 2 * u[..., 4],
        _triangular(55, 55.5, 56)(u[..., 5]),
        _triangular(4990, 5000, 5010)(u[..., 6]),
        _triangular(295, 300, 305)(u[..., 7]),
    ]


def river_depth(x: list[Array]) -> Array:
    Q, Ks, Zv, Zm, _, _, L, B = x
    return (Q / (B * Ks * np.sqrt((Zm - Zv) / L))) ** 0.6


def river_overflow(x: list[Array]) -> Array:
    return x[2] + river_depth(x) - x[4] - x[5]


def river_cost(x: list[Array]) -> Array:
    """Cost in millions: damage when the dyke is overtopped, upkeep when it is not, the dyke itself."""
    S = river_overflow(x)
    with np.errstate(divide="ignore"):
        upkeep = 0.2 + 0.8 * -np.expm1(-1000 / S**4)
    return np.where(S > 0, 1.0, upkeep) + np.maximum(x[4], 8) / 20


def loose_river_depth(z: Array) -> Array:
    """Depth with Ks ~ N(30, 7.5) and Q truncated only at 0, a variant in use: Ks^-1.2 has no mean, H no variance."""
    u = ndtr(z)
    flow_below, roughness_below = _GUMBEL.cdf(0), ndtr(-30 / 7.5)
    Q = 1013 - 558 * np.log(-np.log(flow_below + u[..., 0] * (1 - flow_below)))
    Ks = 30 + 7.5 * ndtri(roughness_below + u[..., 1] * (1 - roughness_below))
    Zv, Zm = 50 + (2 * u[..., 2] - 1), 55 + (2 * u[..., 3] - 1)
    return (Q / (300 * Ks * np.sqrt((Zm - Zv) / 5000))) ** 0.6


# --- Wide channel, Manning: h = (Q n/(B sqrt(S0)))^0.6 with lognormal Q and n: ln h is normal ---

WIDE_LEVELS = np.array([1.2, 1.5, 2.0, 2.5, 3.0])


@dataclass(frozen=True)
class WideChannel:
    """Median flow 12 m3/s, sd of its log 0.35; median n 0.035, sd 0.20; width 8 m, slope 0.002."""

    correlation: float = 0.0

    def flow_score(self, flow: Array) -> Array:
        return np.log(flow / 12) / 0.35

    def depth(self, flow: Array, z_n: Array) -> Array:
        return (flow * 0.035 * np.exp(0.20 * z_n) / (8 * np.sqrt(0.002))) ** 0.6

    def exceedance(self, level: Array) -> Array:
        spread = 0.6 * np.sqrt(0.35**2 + 0.20**2 + 2 * self.correlation * 0.35 * 0.20)
        return ndtr(-np.log(level / self.depth(np.array(12.0), np.array(0.0))) / spread)


# --- A toy crossing: the water goes over when sum(sigma_i Z_i) - ln(1 - b) > t, b ~ Beta(1.2, 6) ---
# The sum is normal, so P is a one-dimensional integral. An atom of probability p0 may sit at b = 0, and the
# normal score of b may be correlated with Z_0, the flow.

SIGMA = np.array([0.35, 0.20, 0.12, 0.10, 0.08])
TOY_NODES = np.concatenate([np.linspace(0.0, 0.9, 10), [0.95, 0.98, 1.0]])


@dataclass(frozen=True)
class Toy:
    scale: float
    limit: float
    clean: float = 0.0
    correlation: float = 0.0

    @property
    def sigma(self) -> Array:
        return self.scale * SIGMA

    def blockage(self, z: Array) -> Array:
        share = np.maximum(ndtr(z) - self.clean, 0) / (1 - self.clean)
        return betaincinv(1.2, 6, share)

    def score_below(self, b: Array) -> Array:
        inside = self.clean + (1 - self.clean) * betainc(1.2, 6, b)
        return ndtri(np.where(b > 0, inside, 0.0))

    def score(self, b: Array) -> Array:
        return ndtri(self.clean + (1 - self.clean) * betainc(1.2, 6, b))

    def load(self, z: Array) -> Array:
        return z @ self.sigma

    def depth_over_bank(self, b: Array, load: Array) -> Array:
        with np.errstate(divide="ignore"):
            return load - np.log1p(-b) - self.limit

    def given_score(self, z: Array) -> Array:
        """P(over | normal score of the blockage is z)."""
        variance = np.sum(self.sigma**2) - (self.sigma[0] * self.correlation) ** 2
        mean = self.sigma[0] * self.correlation * z
        with np.errstate(divide="ignore"):
            need = self.limit + np.log1p(-self.blockage(z)) - mean
        return ndtr(-need / np.sqrt(variance))

    def exact(self, low: float = -12.0, high: float = 12.0) -> float:
        """P(over and the score of the blockage between low and high), by quadrature."""
        pieces = np.linspace(low, high, 25)
        found = [
            integrate.quad(lambda z: stats.norm.pdf(z) * self.given_score(z), a, b, epsabs=0, epsrel=1e-10)[0]
            for a, b in pairwise(pieces)
        ]
        return float(np.sum(found))


FLOW_RULES = Toy(scale=1.0, limit=1.3432379614138057)
BLOCKAGE_RULES = Toy(scale=0.3, limit=0.8797235897459202)
"""Limits for which P is 1e-2; the tests check that they are, by quadrature."""


# --- Limit states with exact P ---


def four_branches(u: Array, k: float) -> Array:
    """Waarts' series system: over when negative."""
    total, difference = (u[..., 0] + u[..., 1]) / np.sqrt(2), u[..., 0] - u[..., 1]
    bowl = 3 + 0.1 * difference**2
    line = k / np.sqrt(2)
    return np.min([bowl - total, bowl + total, difference + line, line - difference], axis=0)


def four_branches_exact(k: float) -> float:
    """Turned by 45 degrees: 2 Phi(-k/2) + integral of phi(w) 2 Phi(-(3 + 0.2 w^2)) over |w| < k/2."""
    inner = integrate.quad(lambda w: stats.norm.pdf(w) * 2 * ndtr(-(3 + 0.2 * w * w)), -k / 2, k / 2)[0]
    return float(2 * ndtr(-k / 2) + inner)


# --- Comparing an estimate with an exact value ---


def standard_error(low: float, high: float, replicates: int) -> float:
    """Back from a Student t interval to the standard error over replicates."""
    return (high - low) / 2 / float(stats.t.ppf(0.975, replicates - 1))


def is_within(value: float, low: float, high: float, exact: float, *, replicates: int = 16, error: float = 0.0) -> bool:
    """Within four standard errors, the reference's own standard error included."""
    return abs(value - exact) <= 4 * np.hypot(standard_error(low, high, replicates), error)


def assert_shares(
    table: pd.DataFrame, name: str, exact: ArrayLike, *, replicates: int = 16, error: float = 0.0
) -> None:
    """A column of shares within four standard errors of the exact ones; 1e-12 where an input does exactly nothing."""
    own = standard_error(table[f"{name}_low"], table[f"{name}_high"], replicates)
    assert np.all(np.abs(table[name] - np.asarray(exact)) <= 4 * np.hypot(own, error) + 1e-12), table


def without_noise(table: pd.DataFrame) -> pd.DataFrame:
    """The rows of the inputs, without the noise floor."""
    return table[table["input"] != "(dummy)"]
