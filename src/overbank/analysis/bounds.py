"""Impossible and certain events: a probability of exactly 0 or 1, because the inputs are bounded.

No sampling can tell an impossible event from a very rare one. Where the depth over the bank is monotone in every input,
it is highest at one corner of their ranges and lowest at the opposite one, and two runs of the model settle the matter.
That it is monotone comes from the physics, or from a pilot (`direction`), which is evidence and not proof.
"""

from __future__ import annotations

import numpy as np

from overbank.analysis.intervals import Array
from overbank.analysis.ladder import falls
from overbank.analysis.overtopping import Probability
from overbank.errors import DomainError

METHOD = "bounds of the inputs, exact"


def direction(depths: Array, tolerance: float) -> int | None:
    """1 when the depth over the bank never falls along the nodes of an input, -1 when it never rises, 0 when neither.

    depths : level minus bank [m] at ascending nodes that span the input's range, shape (K, ...); +inf allowed
    tolerance : a change this small is none [m]

    None when it rises in some place and falls in another, or a run failed: then the corners say nothing.
    """
    if np.any(np.isnan(depths)):
        return None
    downward, upward = np.any(falls(depths, tolerance)), np.any(falls(depths[::-1], tolerance))
    if downward and upward:
        return None
    return int(upward) - int(downward)


def corners(low: Array, high: Array, directions: Array) -> tuple[Array, Array]:
    """The best and the worst corner of the ranges: values of the inputs, shape (d,) each.

    low, high : ends of each input's range, shape (d,); -inf and +inf where it is not bounded
    directions : 1 where the depth over the bank rises with the input, -1 where it falls, 0 where it does neither,
        shape (d,)
    """
    if not low.shape == high.shape == directions.shape:
        raise DomainError(f"corners: expected arrays of one shape; got {low.shape}, {high.shape}, {directions.shape}")
    rises = directions >= 0
    return np.where(rises, low, high), np.where(rises, high, low)


def certain(best: float, worst: float) -> Probability | None:
    """P(over the bank) = 0 or 1 exactly, in words; None when the corners leave it open.

    Parameters
    ----------
    best, worst : level minus bank [m] with every input at its best and at its worst end; +inf where the water has
        no way through, nan where a run failed or there is no such corner because an input is not bounded
    """
    if worst <= 0.0:
        short = "just reaches the bank" if worst == 0.0 else f"stays {-worst:.2f} m below the bank"
        words = f"impossible within the stated ranges: with every input at its worst end the water {short}"
        return Probability(0.0, 0.0, 0.0, METHOD, words)
    if best > 0.0:
        over = f"stands {best:.2f} m above the bank" if np.isfinite(best) else "has no way through"
        words = f"certain within the stated ranges: with every input at its best end the water {over}"
        return Probability(1.0, 1.0, 1.0, METHOD, words)
    return None
