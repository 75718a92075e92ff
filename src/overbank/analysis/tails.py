"""A hint, before any sampling, that the variance of an output may not exist.

Samples show a heavy tail only when one of them has fallen into it. A roughness given as a conveyance coefficient
with a little mass near zero, for one, gives a depth without variance, and half a million samples look sound.
So the model is run far out along every input, the others at their medians, where no sample gets to, and

    integral of (y(z) - y(0))^2 phi(z) dz    z the normal score

beyond the outermost sample is compared with that within.

Source: derived here; tested on a river whose depth has no variance (closed form).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from scipy.special import ndtri

from overbank.analysis.intervals import Array
from overbank.errors import DomainError

FARTHEST, STEP = 8.0, 1.0 / 8.0
"""Score of the farthest run, one in 1e15, and distance between runs."""

UNSEEN_SHARE = 0.05
"""So much variance beyond the samples, as a share of that within, is a warning."""


def unseen_variance(model: Callable[[Array], Array], names: Sequence[str], samples: int) -> str:
    """Words when an input's far end, out of reach of the samples, holds much variance; empty when none does.

    Parameters
    ----------
    model : normal scores (M, d) -> outputs (M,); runs that give no finite number are left out
    names : of the d inputs
    samples : how many will be made, or were

    Raises
    ------
    DomainError : fewer than two samples; no finite output at the medians
    """
    if samples < 2:
        raise DomainError(f"far ends of the inputs: expected at least two samples; got {samples}")
    scores = np.arange(-FARTHEST, FARTHEST + STEP / 2, STEP)
    middle = scores.size // 2
    density = STEP * np.exp(-0.5 * scores**2) / np.sqrt(2.0 * np.pi)
    table = np.zeros((len(names), scores.size, len(names)))
    for j in range(len(names)):
        table[j, :, j] = scores
    outputs = np.asarray(model(table.reshape(-1, len(names)))).reshape(table.shape[:2])
    centre = outputs[:, middle : middle + 1]
    if not np.all(np.isfinite(centre)):
        raise DomainError("far ends of the inputs: expected a finite output with all inputs at their medians")
    squares = np.where(np.isfinite(outputs), (outputs - centre) ** 2, 0.0) * density
    reach = -float(ndtri(1.0 / samples))
    within = float(np.sum(squares[:, np.abs(scores) <= reach]))
    ends = {"low": squares[:, scores < -reach].sum(axis=1), "high": squares[:, scores > reach].sum(axis=1)}
    found = [
        f"the {side} end of {name}"
        for j, name in enumerate(names)
        for side, beyond in ends.items()
        if beyond[j] > UNSEEN_SHARE * within
    ]
    if not found:
        return ""
    return (
        f"Beyond what {samples} samples reach, {' and '.join(found)} would add more than {UNSEEN_SHARE:.0%} to the "
        "variance: the variance may not even exist, and its shares may not settle. Truncate the input away from "
        "that end, or state another quantity (a Manning's n instead of a conveyance coefficient)"
    )
