"""Annual maxima, written anew: flows by their normal score, and what a record of some years leaves unknown of them.

What is unknown follows the docs' own definition, a bootstrap turned round: records of that length are drawn from the
best estimate and fitted by L-moments; a fit that misses by d scales, a factor f and a shape e gives the alternative
with scale/f, location - d scale and shape - e. Every state of knowledge has a record of its own.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy import special

from referee import families
from referee.families import Array

EULER = 0.5772156649015329


def flow(family: str, parameters: Mapping[str, Array | float], z: Array) -> Array:
    """Flow at a normal score [m3/s], held between the flows that a study may have."""
    found = families.value(family, parameters, z)
    return np.clip(found, families.LEAST_FLOW, families.MOST_FLOW)


def alternatives(
    family: str, best: Mapping[str, float], years: int, rng: np.random.Generator, count: int
) -> dict[str, Array]:
    """Parameters of as many equally likely distributions, shape (count,) each."""
    records = families.value(family, best, rng.standard_normal((count, years)))
    location, scale, shape = fitted(family, records)
    at, by, bend = best["location"], best["scale"], best.get("shape", 0.0)
    turned = by**2 / scale
    found = {"location": at - turned * (location - at) / by, "scale": turned}
    return found if family == "gumbel" else found | {"shape": 2.0 * bend - shape}


def fitted(family: str, records: Array) -> tuple[Array, Array, Array]:
    """Location, scale and shape by L-moments of each row (Hosking 1990, from memory)."""
    ordered = np.sort(records, axis=1)
    n = records.shape[1]
    i = np.arange(n)
    b0 = ordered.mean(axis=1)
    b1 = (ordered * i).sum(axis=1) / (n * (n - 1))
    b2 = (ordered * i * (i - 1)).sum(axis=1) / (n * (n - 1) * (n - 2))
    first, second, third = b0, 2.0 * b1 - b0, 6.0 * b2 - 6.0 * b1 + b0
    skew = third / second
    if family == "gumbel":
        scale = second / np.log(2.0)
        return first - EULER * scale, scale, np.zeros(len(records))
    if family == "generalised_logistic":
        shape = -skew
        scale = second * np.sin(np.pi * shape) / (np.pi * shape)
        return first - scale * (1.0 / shape - np.pi / np.sin(np.pi * shape)), scale, shape
    shape = _gev_shape(skew)
    gamma = special.gamma(1.0 + shape)
    scale = second * shape / ((1.0 - 2.0**-shape) * gamma)
    return first - scale * (1.0 - gamma) / shape, scale, shape


def _gev_shape(skew: Array) -> Array:
    """Shape with L-skew 2 (1 - 3^-k)/(1 - 2^-k) - 3, by bisection; L-skew falls as k rises."""
    low, high = np.full(skew.shape, -0.999), np.full(skew.shape, 3.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        middle = np.where(np.abs(middle) < 1e-12, 1e-12, middle)
        above = 2.0 * (1.0 - 3.0**-middle) / (1.0 - 2.0**-middle) - 3.0 > skew
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    found = 0.5 * (low + high)
    return np.where(np.abs(found) < 1e-9, 1e-9, found)
