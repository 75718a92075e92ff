"""Two loops in one design: states of knowledge, and within each of them several floods."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr, ndtri

from overbank.uncertain.checks import expect
from overbank.uncertain.designs import Design, scores
from overbank.uncertain.scores import Values

NEAREST = 2.0**-40
"""A shifted coordinate keeps at least this far from 0 and 1."""


def nested_scores(
    design: Design, states: int, floods: int, outer: int, inner: int, seed: int, replicates: int
) -> Values:
    """Independent normal scores [replicates, states, floods, outer + inner].

    The first `outer` columns are alike in all floods of a state. The others are the points of a Sobol' net, the same
    for all states but shifted by a random amount for each (modulo 1); the shifts are further columns of the outer
    design. So every score is standard normal, the floods of a state fill the space evenly, and errors average out
    from state to state.

    Parameters
    ----------
    design : of the states, as in `designs.scores`
    states : in each replicate; a power of two for Sobol' points
    floods : within each state, a power of two
    """
    expect(floods >= 1 and floods.bit_count() == 1, "a power of two of floods in each state", floods)
    around = scores(design, states * replicates, outer + inner, seed, replicates)
    result = np.repeat(around[:, :, np.newaxis, :], floods, axis=2)
    if inner:
        from scipy.stats import qmc  # slow to fetch, and a check draws no samples

        net = qmc.Sobol(inner, scramble=False).random_base2(floods.bit_length() - 1)
        u = (ndtr(around[:, :, np.newaxis, outer:]) + net) % 1.0
        result[..., outer:] = ndtri(np.clip(u, NEAREST, 1.0 - NEAREST))
    return result
