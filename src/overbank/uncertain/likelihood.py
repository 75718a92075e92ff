"""Maximum likelihood for the flood families, for many samples of one length at once.

With the standardised value u = (x - location)/scale and y = -ln(1 - k u)/k, or y = u for a shape k of 0,

    -ln f = ln scale + (1 - k) y + e^-y              generalised extreme value, and Gumbel with k = 0
    -ln f = ln scale + (1 - k) y + 2 ln(1 + e^-y)    generalised logistic

Source of the densities: Hosking and Wallis 1997, Regional Frequency Analysis, appendix; from memory, unverified; the
tests compare with SciPy.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overbank.uncertain.scores import Values

STEP = 1e-4
"""Step of the central differences; all unknowns are of the order of 1."""

SETTLED = 1e-6
"""Gradient of the mean of -ln f at which a search has ended: a thousandth of what one flood more would change."""

MOST_STEPS = 60

WIDEST = 1.0
"""A shape must stay inside (-1, 1): from 1 on the likelihood of a bounded tail has no maximum."""


class Likeliest(NamedTuple):
    """Parameters [K, 3] of the highest likelihood, and for which samples [K] a maximum was found."""

    parameters: Values
    settled: NDArray[np.bool_]


def most_likely(samples: Values, start: Values, tail: Callable[[Values], Values], free: int) -> Likeliest:
    """Parameters of the highest likelihood, by damped Newton steps on numerical derivatives.

    Parameters
    ----------
    samples : [K, n]
    start : parameters to begin with [K, 3]: location, scale, shape. A sample with values outside the bound of its
        starting distribution begins with a shape of 0
    tail : the last term of -ln f as a function of y, `extreme_value` or `logistic`
    free : 3, or 2 when the shape stays as it is

    Samples are centred and scaled by their starting values; the unknowns are location, ln scale and shape of what
    comes of it.
    """
    scaled = (samples - start[:, :1]) / start[:, 1:2]

    def loss(which: NDArray[np.intp], at: Values) -> Values:
        return _mean_loss(scaled[which], at, tail)

    every = np.arange(len(samples))
    at = np.column_stack([np.zeros((len(samples), 2)), start[:, 2]])
    at[:, 2] = np.where(np.isfinite(loss(every, at)), at[:, 2], 0.0)
    damping = np.full(len(samples), 1e-3)
    still = every
    for _ in range(MOST_STEPS):
        gradient, curvature = _derivatives(partial(loss, still), at[still], free)
        moving = ~(np.max(np.abs(gradient), axis=1) < SETTLED)
        still, gradient, curvature = still[moving], gradient[moving], curvature[moving]
        if still.size == 0:
            break
        trial = at[still]
        trial[:, :free] -= _newton(gradient, curvature, damping[still])
        better = loss(still, trial) < loss(still, at[still])
        at[still[better]] = trial[better]
        damping[still] *= np.where(better, 0.1, 10.0)
    location = start[:, 0] + start[:, 1] * at[:, 0]
    parameters = np.column_stack([location, start[:, 1] * np.exp(at[:, 1]), at[:, 2]])
    return Likeliest(parameters, ~np.isin(every, still))


def extreme_value(y: Values) -> Values:
    """e^-y, the tail term of the generalised extreme value family."""
    tail: Values = np.exp(-y)
    return tail


def logistic(y: Values) -> Values:
    """2 ln(1 + e^-y), the tail term of the generalised logistic family."""
    tail: Values = 2.0 * np.logaddexp(0.0, -y)
    return tail


def _mean_loss(scaled: Values, at: Values, tail: Callable[[Values], Values]) -> Values:
    """Mean of -ln f of each sample; infinite where a value lies outside the bound."""
    shape = at[:, 2:]
    straight = np.abs(shape) < 1e-9
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        u = (scaled - at[:, :1]) * np.exp(-at[:, 1:2])
        y = np.where(straight, u, -np.log1p(-shape * u) / np.where(straight, 1.0, shape))
        found = at[:, 1] + np.mean((1.0 - shape) * y + tail(y), axis=1)
    return np.where(np.isfinite(found) & (np.abs(at[:, 2]) < WIDEST), found, np.inf)


def _derivatives(loss: Callable[[Values], Values], at: Values, free: int) -> tuple[Values, Values]:
    """Gradient [K, free] and matrix of second derivatives [K, free, free] by central differences."""
    steps = STEP * np.eye(3)[:free]
    gradient, curvature = np.empty((len(at), free)), np.empty((len(at), free, free))
    with np.errstate(invalid="ignore"):
        middle = loss(at)
        for i, along in enumerate(steps):
            ahead, behind = loss(at + along), loss(at - along)
            gradient[:, i] = (ahead - behind) / (2.0 * STEP)
            curvature[:, i, i] = (ahead - 2.0 * middle + behind) / STEP**2
            for j, across in enumerate(steps[:i]):
                corners = loss(at + along + across) + loss(at - along - across)
                corners -= loss(at + along - across) + loss(at - along + across)
                curvature[:, i, j] = curvature[:, j, i] = corners / (4.0 * STEP**2)
    return gradient, curvature


def _newton(gradient: Values, curvature: Values, damping: Values) -> Values:
    """Newton's step with the curvature raised to be positive; nan where a derivative is not known."""
    known = np.isfinite(curvature).all(axis=(1, 2)) & np.isfinite(gradient).all(axis=1)
    step = np.full(gradient.shape, np.nan)
    matrix = curvature[known]
    lowest = np.linalg.eigvalsh(matrix)[:, 0]
    raised = damping[known] + np.maximum(0.0, -1.5 * lowest)
    matrix = matrix + raised[:, None, None] * np.eye(gradient.shape[1])
    step[known] = np.linalg.solve(matrix, gradient[known][..., None])[..., 0]
    return step
