"""The threshold method where every model run counts: a ladder of few nodes, then the polish.

A ladder of a dozen nodes gives the whole exceedance curve at once. For one probability, and for the samples of
a pilot or of a rare event, three to six nodes do: they bracket the critical value and the polish finds it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overbank.analysis.intervals import Array
from overbank.analysis.ladder import critical
from overbank.analysis.polish import DepthAt, polish


@dataclass(frozen=True)
class Thresholds:
    """Critical value of the integrated input for each of N samples.

    value : as `ladder.Crossing.value`, shape (N,); nan for a sample with a failed run
    depths : level minus bank [m] at the nodes, shape (K, N)
    runs : model runs spent
    """

    value: Array
    depths: Array
    runs: int


def critical_values(depth_at: DepthAt, nodes: Array, samples: int, tolerance: float) -> Thresholds:
    """Critical values from a ladder over `nodes` and the polish, for samples 0 to `samples` - 1.

    Where the depth over the bank falls along the nodes the first crossing counts, the safe end.

    Parameters
    ----------
    depth_at : the model, (x (M,), sample (M,)) -> level minus bank [m]
    nodes : of the integrated input, ascending, spanning its support, atoms among them; shape (K,)
    samples : how many
    tolerance : on the critical value, in the unit of the integrated input
    """
    everyone = np.arange(samples)
    depths = np.array([depth_at(np.full(samples, node), everyone) for node in nodes])
    polished = polish(depth_at, critical(nodes, depths[:, None, :]), tolerance)
    return Thresholds(polished.value[0], depths, nodes.size * samples + polished.runs)
