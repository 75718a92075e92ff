"""Sampling designs: independent normal scores in replicates that are independent of each other.

An interval comes from the scatter between replicates, so each replicate has a random generator of its own,
spawned from the seed. The first Sobol' point is always kept: dropping it spoils the balance of the net (Owen,
arXiv 2008.08051; read in the source).
"""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
from scipy.special import ndtri
from scipy.stats import qmc

from overbank.uncertain.checks import expect
from overbank.uncertain.scores import Values

Design = Literal["sobol", "latin_hypercube", "monte_carlo"]

SOBOL_BITS = 30
"""Digits of a Sobol' coordinate; half a unit of the last one keeps the coordinate off 0 and 1."""


def scores(design: Design, samples: int, dimension: int, seed: int, replicates: int) -> Values:
    """Independent standard normal scores [replicates, samples // replicates, dimension].

    Parameters
    ----------
    design : "sobol" (scrambled Sobol' points), "latin_hypercube" or "monte_carlo"
    samples : in all replicates together; a multiple of replicates; for Sobol' a power of two in each
    dimension : how many uncertain numbers
    seed : 0 or more; the same seed gives the same bits
    replicates : independent repetitions of the design
    """
    expect(design in get_args(Design), f"a design, one of {', '.join(get_args(Design))}", repr(design))
    expect(samples >= 1 and replicates >= 1, "at least one sample and one replicate", (samples, replicates))
    expect(dimension >= 0, "a dimension of 0 or more", dimension)
    expect(seed >= 0, "a seed of 0 or more", seed)
    count, rest = divmod(samples, replicates)
    expect(rest == 0, f"a number of samples that {replicates} replicates can share", samples)
    if design == "sobol":
        _check_power_of_two(samples, count, replicates)
    result = np.empty((replicates, count, dimension))
    if dimension == 0:
        return result
    for replicate, child in zip(result, np.random.SeedSequence(seed).spawn(replicates), strict=True):
        replicate[:] = _one_replicate(design, count, dimension, np.random.default_rng(child))
    return result


def _check_power_of_two(samples: int, count: int, replicates: int) -> None:
    lower = 1 << (count.bit_length() - 1)
    expect(
        count == lower,
        f"a power of two of Sobol' points in each replicate (with {replicates} replicates, "
        f"{lower * replicates} or {2 * lower * replicates} samples)",
        f"{samples} samples, {count} in each",
    )
    expect(count <= 2**SOBOL_BITS, f"at most 2^{SOBOL_BITS} Sobol' points in each replicate", count)


def _one_replicate(design: Design, count: int, dimension: int, generator: np.random.Generator) -> Values:
    if design == "monte_carlo":
        return generator.standard_normal((count, dimension))
    if design == "sobol":
        net = qmc.Sobol(dimension, scramble=True, bits=SOBOL_BITS, rng=generator)
        u = net.random_base2(count.bit_length() - 1) + 0.5 ** (SOBOL_BITS + 1)
    else:
        smallest = 0.5**53
        u = np.clip(qmc.LatinHypercube(dimension, rng=generator).random(count), smallest, 1.0 - smallest)
    z: Values = ndtri(u)
    return z
