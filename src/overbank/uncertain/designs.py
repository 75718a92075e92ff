"""Sampling designs: independent normal scores in replicates that are independent of each other.

An interval comes from the scatter between replicates, so each replicate has a random generator of its own,
spawned from the seed. The first Sobol' point is always kept: dropping it spoils the balance of the net (Owen,
arXiv 2008.08051; read in the source).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, get_args

import numpy as np
from scipy.special import ndtri

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
    expect(samples >= 1 and replicates >= 1, "at least one sample and one replicate", (samples, replicates))
    (whole,) = score_batches(design, samples, dimension, seed, replicates, 1 << (samples // replicates).bit_length())
    return whole


def score_batches(
    design: Design, samples: int, dimension: int, seed: int, replicates: int, size: int
) -> Iterator[Values]:
    """The same scores a few at a time, [replicates, at most `size`, dimension]: the next ones of every replicate.

    Parameters
    ----------
    size : samples of each replicate at a time, a power of two. A Latin hypercube is made whole all the same
    """
    expect(design in get_args(Design), f"a design, one of {', '.join(get_args(Design))}", repr(design))
    expect(samples >= 1 and replicates >= 1, "at least one sample and one replicate", (samples, replicates))
    expect(dimension >= 0, "a dimension of 0 or more", dimension)
    expect(seed >= 0, "a seed of 0 or more", seed)
    count, rest = divmod(samples, replicates)
    expect(rest == 0, f"a number of samples that {replicates} replicates can share", samples)
    if design == "sobol":
        _check_power_of_two(samples, count, replicates)
    sizes = [min(size, count - start) for start in range(0, count, size)]
    children = np.random.SeedSequence(seed).spawn(replicates)
    sources = [_one_replicate(design, sizes, dimension, np.random.default_rng(child)) for child in children]
    for batch in zip(*sources, strict=True):
        yield np.stack(batch)


def _check_power_of_two(samples: int, count: int, replicates: int) -> None:
    lower = 1 << (count.bit_length() - 1)
    expect(
        count == lower,
        f"a power of two of Sobol' points in each replicate (with {replicates} replicates, "
        f"{lower * replicates} or {2 * lower * replicates} samples)",
        f"{samples} samples, {count} in each",
    )
    expect(count <= 2**SOBOL_BITS, f"at most 2^{SOBOL_BITS} Sobol' points in each replicate", count)


def _one_replicate(
    design: Design, sizes: list[int], dimension: int, generator: np.random.Generator
) -> Iterator[Values]:
    """Scores of one replicate, so many at a time."""
    from scipy.stats import qmc  # slow to fetch, and a check draws no samples

    if dimension == 0:
        yield from (np.empty((size, 0)) for size in sizes)
    elif design == "monte_carlo":
        yield from (generator.standard_normal((size, dimension)) for size in sizes)
    elif design == "sobol":
        net = qmc.Sobol(dimension, scramble=True, bits=SOBOL_BITS, rng=generator)
        yield from (ndtri(net.random(size) + 0.5 ** (SOBOL_BITS + 1)) for size in sizes)
    else:
        smallest = 0.5**53
        u = np.clip(qmc.LatinHypercube(dimension, rng=generator).random(sum(sizes)), smallest, 1.0 - smallest)
        yield from (ndtri(part) for part in np.split(u, np.cumsum(sizes)[:-1]))
