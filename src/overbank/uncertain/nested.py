"""Two loops in one design: states of knowledge, and within each of them several floods."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from overbank.uncertain.checks import expect
from overbank.uncertain.dependence import Copula
from overbank.uncertain.designs import Design, scores
from overbank.uncertain.distributions import Distribution
from overbank.uncertain.parameters import Models
from overbank.uncertain.scores import Values, as_values

NEAREST = 2.0**-40
"""A shifted coordinate keeps at least this far from 0 and 1."""

FEWEST_MOVED = 3
"""Floods in a part from which on they are moved to its ends and weighed."""

MOST_LUMPS = 4
"""A number with more values of their own probability than this is drawn like any other."""


def nested_scores(
    design: Design, states: int, floods: int, outer: int, inner: int, seed: int, replicates: int, nets: int = 1
) -> Values:
    """Independent normal scores [replicates, states, floods, outer + inner].

    The first `outer` columns are alike in all floods of a state. The others are the points of a Sobol' net, the same
    for all states but shifted by a random amount for each (modulo 1); the shifts are further columns of the outer
    design. So every score is standard normal, the floods of a state fill the space evenly, and errors average out from
    state to state. With two nets, each half of the floods has its own shift: the halves are independent, and their
    difference tells how well the floods of a state tell its mean.

    Parameters
    ----------
    design : of the states, as in `designs.scores`
    states : in each replicate; a power of two for Sobol' points
    floods : within each state, a power of two
    nets : 1, or 2
    """
    expect(floods >= 1 and floods.bit_count() == 1, "a power of two of floods in each state", floods)
    halves = min(floods, nets)
    around = scores(design, states * replicates, outer + halves * inner, seed, replicates)
    result = np.empty((replicates, states, floods, outer + inner))
    result[..., :outer] = around[:, :, np.newaxis, :outer]
    if inner:
        from scipy.stats import qmc  # slow to fetch, and a check draws no samples

        each = floods // halves
        net = qmc.Sobol(inner, scramble=False).random_base2(each.bit_length() - 1)
        for half in range(halves):
            first = outer + half * inner
            v = (ndtr(around[:, :, np.newaxis, first : first + inner]) + net) % 1.0
            result[:, :, half * each : (half + 1) * each, outer:] = ndtri(np.clip(v, NEAREST, 1.0 - NEAREST))
    return result


def net_shifts(inner: Values, nets: int) -> Values:
    """Shifts of the nets, in steps between neighbouring points, [replicates, states, halves, d]; within 0 and 1.

    Parameters
    ----------
    inner : columns of `nested_scores` that are not alike in all floods of a state
    nets : as in `nested_scores`
    """
    each = max(inner.shape[2] // nets, 1)
    return as_values(each * ndtr(inner[:, :, ::each]) % 1.0)


def weighted_floods(
    z: Values,
    copula: Copula,
    distributions: Mapping[int, Distribution],
    models: Mapping[int, tuple[Models, NDArray[np.intp]]] | None = None,
) -> tuple[Values, Values]:
    """Independent scores whose floods tell the mean over a state's floods well, and the weight of each [R, S, M].

    A screen that shuts in 1 flood of 20 is shut in none, one or two of a few floods. Here a number's range of scores is
    cut at its lumps, each part gets its own floods, and they weigh as much as the part is likely given the numbers
    before. In every state the weights of the parts are exact. Where no other number comes out anew in each flood, the
    floods within a part lie at t^3 (10 - 15 t + 6 t^2) of even steps t and weigh as its slope: so a smooth mean over n
    floods errs by 1/n^4 and not by 1/n. Where others do, each is folded in the middle, u = 1 - |2v - 1|: 1/n^2 at best.
    One flood tells all of a lump only where the flood of a year does not go with the number: within a lump its score
    goes on, and the flood's with it. Parts of one or two floods lie evenly and weigh alike, which keeps their law.

    Parameters
    ----------
    z : independent scores [R, S, M, d] from `nested_scores`, knowledge first, the flood of a year last
    copula : of the d numbers
    distributions : column of a number that comes out anew in each flood -> its distribution, for all of them
    models : column of one of them whose parameters are uncertain -> its models, and the place of each state's [R, S]
    """
    z, weights = z.copy(), np.ones(z.shape[:-1])
    floods = z.shape[2]
    halves = [slice(None)] if floods < 2 else [slice(None, floods // 2), slice(floods // 2, None)]
    root = np.linalg.cholesky(copula.correlation)
    bound = {each.member for each in copula.tails if each.hub > each.member}
    alone = len(distributions) == 1
    for column, distribution in sorted(distributions.items()):
        u = ndtr(z[..., column])
        if not alone:
            u = 1.0 - np.abs(2.0 * u - 1.0)
        edges, lump = _parts(distribution, (models or {}).get(column), z.shape[:2])
        if column in bound or len(lump) > max(1, floods // 2):
            edges, lump = _whole(z.shape[:2]), np.array([False])
        if _goes_with_the_flood(copula, float(root[-1, column]), column):
            lump = np.zeros_like(lump)
        mean = z[..., :column] @ root[column, :column]
        ends = ndtr((edges[..., np.newaxis] - mean) / root[column, column])
        for half in halves:
            z[:, :, half, column], weight = _cut(u[:, :, half], ends[:, :, :, half], lump, alone)
            weights[:, :, half] *= weight
    return z, weights


def _goes_with_the_flood(copula: Copula, weight: float, column: int) -> bool:
    """Whether the flood of a year, the last number, depends on another one given those before it, with this weight."""
    flood = len(copula.names) - 1
    return bool(weight) or any({each.hub, each.member} == {column, flood} for each in copula.tails)


def _parts(
    distribution: Distribution, models: tuple[Models, NDArray[np.intp]] | None, states: tuple[int, ...]
) -> tuple[Values, NDArray[np.bool_]]:
    """Scores between which a number is in a lump or between two [J + 1, R, S], -inf to inf; and which are lumps."""
    places = [place for place, _ in distribution.atoms]
    edges, lump = [np.full(states, -np.inf)], []
    for at in places if len(places) <= MOST_LUMPS else []:
        value = np.full(states, at)
        if models is None:
            low, high = distribution.score_below(value), distribution.score(value)
        else:
            low, high = models[0].score_below(value, models[1]), models[0].score(value, models[1])
        if np.any(low > edges[-1]):
            edges.append(low)
            lump.append(False)
        edges.append(high)
        lump.append(True)
    if np.any(edges[-1] < np.inf):
        edges.append(np.full(states, np.inf))
        lump.append(False)
    return np.array(edges), np.array(lump)


def _whole(states: tuple[int, ...]) -> Values:
    return np.array([np.full(states, -np.inf), np.full(states, np.inf)])


def _cut(u: Values, ends: Values, lump: NDArray[np.bool_], alone: bool) -> tuple[Values, Values]:
    """Scores and weights of half the floods [R, S, n], each part between the ends [J + 1, R, S, n] with its own."""
    points, masses = u.shape[2], np.diff(ends, axis=0)
    counts = _counts(masses, lump, points, alone)
    begins = np.cumsum(counts, axis=0) / points
    part = np.sum(u >= begins[:-1], axis=0)[np.newaxis]

    def of(table: Values) -> Values:
        return as_values(np.take_along_axis(table, part, axis=0)[0])

    size = of(counts) / points
    within = np.clip((u - (of(begins) - size)) / size, 0.0, 1.0)
    weight = of(masses) / size
    if alone:
        plain = lump[part[0]] | (of(counts) < FEWEST_MOVED)
        slope = np.where(plain, 1.0, 30.0 * (within * (1.0 - within)) ** 2)
        within = np.where(plain, within, within**3 * (10.0 - within * (15.0 - 6.0 * within)))
        for each in range(len(masses)):  # exactly the part's own share
            own = part[0] == each
            mean = np.sum(slope * own, axis=2, keepdims=True) / np.maximum(own.sum(axis=2, keepdims=True), 1)
            slope = np.where(own, slope / np.where(mean > 0.0, mean, 1.0), slope)
        weight = weight * slope
    moved = of(ends[:-1]) + within * of(masses)
    return ndtri(np.clip(moved, NEAREST, 1.0 - NEAREST)), weight


def _counts(masses: Values, lump: NDArray[np.bool_], points: int, alone: bool) -> Values:
    """Floods for each part [J, R, S, n], one at least where it can happen.

    Where nothing else comes out anew, one flood tells all of a lump. Else half of them go by how likely the parts are.
    """
    share = np.where(lump[:, None, None, None], 0.0, masses) if alone else masses + 1.0 / len(masses)
    share = np.where(masses > 0.0, share, 0.0)
    share = share / np.maximum(share.sum(axis=0), 1e-300)
    counts = np.where(masses > 0.0, 1.0 + np.floor(share * (points - len(masses))), 0.0)
    largest = np.argmax(np.where(masses > 0.0, share + 1e-9 * masses, -1.0), axis=0)[np.newaxis]
    rest = points - counts.sum(axis=0, keepdims=True)
    np.put_along_axis(counts, largest, np.take_along_axis(counts, largest, axis=0) + rest, axis=0)
    return as_values(counts)
