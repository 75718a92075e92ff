"""Critical values to a chosen accuracy: a bracketing root solve over many samples at once.

Chandrupatla's method: inverse quadratic interpolation where it is safe, bisection elsewhere. It differs from
scipy's `elementwise.find_root` in what the ladder already knows: both ends of the bracket and a good first
guess cost no model run here, and an infinite depth over the bank is an ordinary "over".

Source: Chandrupatla, Adv. Eng. Softw. 28 (1997) 145. From memory, unverified; the tests compare with
scipy.optimize.elementwise.find_root.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.analysis.intervals import Array
from overbank.analysis.ladder import Crossing, Mask
from overbank.errors import DomainError

ENDLESS = 1e9
"""Stands for an infinite depth over the bank [m]: far above any real one, small enough to compute with."""

MOST_STEPS = 100
"""Bisection alone needs about 50 steps from any bracket to the last bit."""

DepthAt = Callable[[Array, NDArray[np.intp]], Array]
"""(x (M,), flat index of the sample (M,)) -> depth over the bank [m] (M,): the model for chosen samples."""


@dataclass(frozen=True)
class Polished:
    """Critical values after polishing.

    value : shape (R, N); as `Crossing.value`, nan where a run of the polish failed
    runs : model runs spent
    failed : samples lost to a failed run during the polish
    """

    value: Array
    runs: int
    failed: int


@dataclass
class _Bracket:
    """Samples still being solved: `near` is the latest end, `far` the other, `old` the one before."""

    sample: NDArray[np.intp]
    near: Array
    far: Array
    old: Array
    near_depth: Array
    far_depth: Array
    old_depth: Array

    def keep(self, mask: Mask) -> None:
        for name in self.__dataclass_fields__:
            setattr(self, name, getattr(self, name)[mask])


def polish(depth_at: DepthAt, crossing: Crossing, tolerance: float, where: Mask | None = None) -> Polished:
    """Refine x* inside its two nodes until the bracket is no wider than `tolerance`.

    Parameters
    ----------
    depth_at : the model; called with the samples still open, in one go for each step
    crossing : from `ladder.critical`
    tolerance : on x, in the unit of the integrated input
    where : samples worth the runs, shape (R, N); all solvable ones when left out

    An upward jump of the depth over the bank is bracketed like a root.
    """
    if not tolerance > 0:
        raise DomainError(f"polish: expected a tolerance above 0; got {tolerance}")
    wanted = crossing.solvable if where is None else crossing.solvable & where
    value = crossing.value.ravel().copy()
    sample = np.flatnonzero(wanted.ravel())
    low, high = crossing.low.ravel()[sample], crossing.high.ravel()[sample]
    depths = [np.minimum(m.ravel()[sample], ENDLESS) for m in (crossing.depth_low, crossing.depth_high)]
    state = _Bracket(sample, high, low, high, depths[1], depths[0], depths[1])
    trial = _first_trial(crossing.depth_high.ravel()[sample], value[sample], low, high, tolerance)
    runs = 0
    for _ in range(MOST_STEPS):
        if state.sample.size == 0:
            break
        runs += state.sample.size
        depth_over_bank = np.minimum(depth_at(trial, state.sample), ENDLESS)
        trial = _step(state, trial, depth_over_bank, tolerance, value)
    lowest = np.nextafter(low, np.inf)
    value[sample] = np.maximum(value[sample], lowest)
    return Polished(value.reshape(crossing.value.shape), runs, int(np.count_nonzero(np.isnan(value[sample]))))


def _first_trial(depth_high: Array, guess: Array, low: Array, high: Array, tolerance: float) -> Array:
    """The interpolated value, or the middle when the upper depth over the bank is infinite; never on an end."""
    inset = np.minimum(tolerance, 0.5 * (high - low))
    middle = 0.5 * (low + high)
    return np.where(np.isfinite(depth_high), np.clip(guess, low + inset, high - inset), middle)


def _step(state: _Bracket, trial: Array, depth_over_bank: Array, tolerance: float, value: Array) -> Array:
    """Take in the new depths over the bank, file the samples that are done, and say where to try next."""
    same_side = (depth_over_bank > 0) == (state.near_depth > 0)
    state.old = np.where(same_side, state.near, state.far)
    state.old_depth = np.where(same_side, state.near_depth, state.far_depth)
    state.far = np.where(same_side, state.far, state.near)
    state.far_depth = np.where(same_side, state.far_depth, state.near_depth)
    state.near, state.near_depth = trial, depth_over_bank

    width = np.abs(state.far - state.near)
    nearer = np.abs(state.near_depth) <= np.abs(state.far_depth)
    best = np.where(nearer, state.near, state.far)
    value[state.sample] = np.where(np.isnan(depth_over_bank), np.nan, best)
    tightest = np.maximum(tolerance, 4 * np.spacing(np.abs(best)))
    state.keep((width > tightest) & (depth_over_bank != 0) & ~np.isnan(depth_over_bank))
    return _next_trial(state, tolerance)


def _next_trial(state: _Bracket, tolerance: float) -> Array:
    """Chandrupatla's choice between inverse quadratic interpolation and the middle of the bracket."""
    a, b, c = state.near, state.far, state.old
    fa, fb, fc = state.near_depth, state.far_depth, state.old_depth
    with np.errstate(divide="ignore", invalid="ignore"):
        xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
        quadratic = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
    smooth = (phi**2 < xi) & ((1 - phi) ** 2 < 1 - xi) & np.isfinite(quadratic)
    step = np.where(smooth, quadratic, 0.5)
    least = np.minimum(0.5 * tolerance / np.abs(b - a), 0.5)
    return np.asarray(a + np.clip(step, least, 1 - least) * (b - a))
