"""The threshold method where every model run counts: a ladder of few nodes, then the polish.

A ladder of a dozen nodes gives the whole exceedance curve at once. For one probability, and for the samples of
a pilot or of a rare event, three to six nodes do: they bracket the critical value and the polish finds it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overbank.analysis.intervals import Array
from overbank.analysis.ladder import critical
from overbank.analysis.polish import MarginAt, polish


@dataclass(frozen=True)
class Thresholds:
    """Critical value of the stair input for each of N samples.

    value : as `ladder.Crossing.value`, shape (N,); nan for a sample with a failed run
    margins : level minus bank [m] at the nodes, shape (K, N)
    runs : model runs spent
    """

    value: Array
    margins: Array
    runs: int


def critical_values(margin_at: MarginAt, nodes: Array, samples: int, tolerance: float) -> Thresholds:
    """Critical values from a ladder over `nodes` and the polish, for samples 0 to `samples` - 1.

    Where the margin falls along the nodes the first crossing counts, the safe end.

    Parameters
    ----------
    margin_at : the model, (x (M,), sample (M,)) -> level minus bank [m]
    nodes : of the stair input, ascending, spanning its support, atoms among them; shape (K,)
    samples : how many
    tolerance : on the critical value, in the unit of the stair input
    """
    everyone = np.arange(samples)
    margins = np.array([margin_at(np.full(samples, node), everyone) for node in nodes])
    polished = polish(margin_at, critical(nodes, margins[:, None, :]), tolerance)
    return Thresholds(polished.value[0], margins, nodes.size * samples + polished.runs)
