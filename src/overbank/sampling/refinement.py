"""Where a ladder needs more rungs: found on a few samples, so that levels between rungs can be read off them.

Levels bend sharply where a soffit is met or a road is passed. Each gap between two rungs is tried at its middle: where
the level interpolated there misses the true one, the middle becomes a rung and its two halves are tried in turn.
"""

from __future__ import annotations

import numpy as np

from overbank.analysis import refining
from overbank.sampling.integrated_input import IntegratedInput
from overbank.sampling.samples import Array, Sampling

TRIED = 512
"""Samples on which the gaps are tried."""

MISSES = 0.002
"""Mean miss of an interpolated level from which a gap gets a rung at its middle [m]."""

SELDOM = 1e-3
"""A gap in which the input lies less often than this is left as it is."""

ROUNDS, MOST_RUNGS = 4, 48
"""So often gaps are halved, and so many rungs at most."""


def refined(sampling: Sampling, integrated: IntegratedInput, nodes: Array, top: float) -> Array:
    """The nodes with more of them where levels at the place bend; ascending.

    Parameters
    ----------
    integrated : what the ladder is over
    nodes : to begin with, ascending
    top : highest level that is asked for [m]
    """
    chosen = sampling.chosen(TRIED)
    cdf, place = integrated.distribution.cdf, (sampling.model.place,)

    def levels_at(values: Array) -> Array:
        asked = [np.full(chosen.size, number) for number in integrated.numbers(values)]
        return np.array([sampling.levels_with(integrated.column, each, place, chosen)[0] for each in asked])

    levels = levels_at(nodes)
    settled = np.diff(cdf(nodes)) < SELDOM
    for _ in range(ROUNDS):
        gaps = np.flatnonzero(~settled)[: max(0, MOST_RUNGS - nodes.size)]
        if gaps.size == 0:
            break
        middles = 0.5 * (nodes[gaps] + nodes[gaps + 1])
        true = levels_at(middles)
        misses = refining.misses(nodes, levels, middles, true, top) > MISSES
        settled[gaps[~misses]] = True
        added = gaps[misses]
        nodes = np.insert(nodes, added + 1, middles[misses])
        levels = np.insert(levels, added + 1, true[misses], axis=0)
        halves = np.diff(cdf(nodes)) < SELDOM
        settled = np.insert(settled, added + 1, False) | halves
    return nodes
