"""Distributions of a study, written anew: the value at a standard normal score, and how likely less is.

Parameters may be arrays, one a sample, so that a distribution whose parameters are uncertain is no special case.
The docs' page on distributions names the formulas; here they are written from the definitions with SciPy's special
functions. Each is held against SciPy's own distributions in `test_families.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import special

Array = NDArray[np.float64]
Parameters = Mapping[str, Any]

LEAST_FLOW, MOST_FLOW = 0.001, 20_000.0
"""Flows that the study file allows [m3/s]; where a distribution of annual maxima reaches further, it stays here."""

FAMILIES = (
    *("normal", "lognormal", "uniform", "triangular", "beta", "pert", "inflated_beta", "discrete"),
    *("gumbel", "gev", "generalised_logistic", "log_pearson3"),
)
"""Words that stand for a distribution in a study file."""

EVEN = 1e-9
"""A shape or skew nearer to 0 than this is taken as 0."""


def value(family: str, given: Parameters, z: Array) -> Array:
    """Value at a standard normal score, cut off by `low` and `high` where these are no parameters of the family."""
    if family not in ("uniform", "triangular", "beta", "pert") and ("low" in given or "high" in given):
        below = below_value(family, given, given["low"]) if "low" in given else 0.0
        above = 1.0 - below_value(family, given, given["high"]) if "high" in given else 0.0
        z = special.ndtri(below + special.ndtr(z) * (1.0 - below - above))
    return np.asarray(INVERSES[family](given, np.asarray(z, dtype=np.float64)))


def below_value(family: str, given: Parameters, x: float) -> float:
    """P(X <= x), by bisection of the inverse: slow, and used for single numbers only."""
    bare = {key: number for key, number in given.items() if key not in ("low", "high")}
    low, high = -38.0, 8.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        if INVERSES[family](bare, np.array(middle)) <= x:
            low = middle
        else:
            high = middle
    return float(special.ndtr(low))


def atoms(family: str, given: Parameters) -> Array | None:
    """Chances at which the inverse jumps or stays: ends of the lumps, rising along the last axis; None where smooth."""
    if family == "inflated_beta":
        zero, one = np.asarray(given["at_zero"]), np.asarray(given["at_one"])
        return np.stack(np.broadcast_arrays(zero, 1.0 - one), axis=-1)
    if family == "discrete":
        return _steps(given)[1][:-1]
    return None


def _normal(given: Parameters, z: Array) -> Array:
    return np.asarray(given["mean"] + given["sd"] * z)


def _lognormal(given: Parameters, z: Array) -> Array:
    if "median" in given:
        return np.asarray(given["median"] * np.exp(np.sqrt(np.log1p(np.square(given["cov"]))) * z))
    variance = np.log1p((given["sd"] / given["mean"]) ** 2)
    return np.asarray(given["mean"] * np.exp(np.sqrt(variance) * z - 0.5 * variance))


def _uniform(given: Parameters, z: Array) -> Array:
    return np.asarray(given["low"] + (given["high"] - given["low"]) * special.ndtr(z))


def _triangular(given: Parameters, z: Array) -> Array:
    low, mode, high = given["low"], given["mode"], given["high"]
    rising = low + np.sqrt(special.ndtr(z) * (high - low) * (mode - low))
    falling = high - np.sqrt(special.ndtr(-z) * (high - low) * (high - mode))
    return np.asarray(np.where(special.ndtr(z) < (mode - low) / (high - low), rising, falling))


def _share(a: Any, b: Any, z: Array) -> Array:
    """Beta from 0 to 1, from the smaller of the two tails."""
    lower, upper = special.betaincinv(a, b, special.ndtr(z)), special.betainccinv(a, b, special.ndtr(-z))
    return np.asarray(np.where(z < 0.0, lower, upper))


def _beta(given: Parameters, z: Array) -> Array:
    low, high = given.get("low", 0.0), given.get("high", 1.0)
    return np.asarray(low + (high - low) * _share(given["a"], given["b"], z))


def _pert(given: Parameters, z: Array) -> Array:
    low, mode, high = given["low"], given["mode"], given["high"]
    at = (mode - low) / (high - low)
    return np.asarray(low + (high - low) * _share(1.0 + 4.0 * at, 5.0 - 4.0 * at, z))


def _inflated_beta(given: Parameters, z: Array) -> Array:
    zero, one = given["at_zero"], given["at_one"]
    inside = np.clip((special.ndtr(z) - zero) / (1.0 - zero - one), 0.0, 1.0)
    between = special.betaincinv(given["a"], given["b"], inside)
    found = np.where(special.ndtr(z) <= zero, 0.0, between)
    return np.where(special.ndtr(-z) < one, 1.0, found)


def _steps(given: Parameters) -> tuple[Array, Array]:
    values, weights = np.asarray(given["values"], dtype=np.float64), np.asarray(given["weights"], dtype=np.float64)
    order = np.argsort(values)
    return values[order], np.cumsum(weights[order]) / weights.sum()


def _discrete(given: Parameters, z: Array) -> Array:
    values, heights = _steps(given)
    place = np.searchsorted(heights, special.ndtr(z) - 1e-15, side="left")
    return np.asarray(values[np.minimum(place, values.size - 1)])


def _gumbel(given: Parameters, z: Array) -> Array:
    return np.asarray(given["location"] - given["scale"] * np.log(-special.log_ndtr(z)))


def _shaped(given: Parameters, rarity: Array) -> Array:
    """location + scale (1 - exp(-shape y))/shape, y the reduced variate; the limit for a shape of 0 is linear in y."""
    shape = np.asarray(given["shape"], dtype=np.float64)
    even = np.abs(shape) < EVEN
    divided = np.where(even, 1.0, shape)
    reduced = np.where(even, rarity, -np.expm1(-divided * rarity) / divided)
    return np.asarray(given["location"] + given["scale"] * reduced)


def _gev(given: Parameters, z: Array) -> Array:
    return _shaped(given, -np.log(-special.log_ndtr(z)))


def _generalised_logistic(given: Parameters, z: Array) -> Array:
    return _shaped(given, special.log_ndtr(z) - special.log_ndtr(-z))


def _log_pearson3(given: Parameters, z: Array) -> Array:
    mean, sd, skew = given["mean_log10"], given["sd_log10"], float(given["skew_log10"])
    if abs(skew) < EVEN:
        return np.asarray(10.0 ** (mean + sd * z))
    shape, side = 4.0 / skew**2, np.sign(skew)
    turned = side * z
    gamma = np.where(
        turned < 0.0,
        special.gammaincinv(shape, special.ndtr(turned)),
        special.gammainccinv(shape, special.ndtr(-turned)),
    )
    return np.asarray(10.0 ** (mean + sd * 0.5 * skew * (gamma - shape)))


INVERSES: Mapping[str, Callable[[Parameters, Array], Array]] = {
    "normal": _normal,
    "lognormal": _lognormal,
    "uniform": _uniform,
    "triangular": _triangular,
    "beta": _beta,
    "pert": _pert,
    "inflated_beta": _inflated_beta,
    "discrete": _discrete,
    "gumbel": _gumbel,
    "gev": _gev,
    "generalised_logistic": _generalised_logistic,
    "log_pearson3": _log_pearson3,
}
