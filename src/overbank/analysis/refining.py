"""How well levels between the rungs of a ladder are read off it, where some rungs may be endless."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from overbank.analysis.intervals import Array
from overbank.analysis.ladder import check_nodes


def interpolated(nodes: Array, levels: Array, at: Array) -> Array:
    """Levels at any values between the rungs, as `crossings.fill_crossings` takes them to be; shape (M, N).

    A monotone cubic through the finite rungs; from the last of them to an endless one A + B/(X - x)^2, then +inf.

    Parameters
    ----------
    nodes : ascending, shape (K,)
    levels : at the nodes, never falling along them, +inf allowed and nan for a failed run, shape (K, N)
    at : values of the integrated input within the nodes, shape (M,)
    """
    check_nodes(nodes)
    finite = np.sum(np.isfinite(levels), axis=0)
    found = np.where(np.any(np.isnan(levels), axis=0), np.nan, np.full((at.size, levels.shape[1]), np.inf))
    for count in np.unique(finite):
        own = np.flatnonzero((finite == count) & ~np.any(np.isnan(levels), axis=0))
        if own.size == 0 or count == 0:
            continue
        inside = at <= nodes[count - 1]
        if count > 1:
            found[np.ix_(inside, own)] = _cubic(nodes, levels[:, own], int(count))(at[inside])
        else:
            found[np.ix_(inside, own)] = levels[0, own]
        if count < nodes.size:
            beyond = ~inside & (at < nodes[count])
            found[np.ix_(beyond, own)] = _towards(nodes, levels[:, own], int(count), at[beyond])
    return found


def misses(nodes: Array, levels: Array, middles: Array, true: Array, top: float) -> Array:
    """Mean miss of the levels that are read off at the middles of gaps, over the samples [m]; shape (M,).

    A level above `top` counts as `top`: above all levels that are asked for it matters neither how high the water
    stands nor whether it has a way through at all. So an endless rung hides no gap.

    Parameters
    ----------
    middles : shape (M,); true : levels there, shape (M, N); nan is a failed run, left out
    top : highest level that is asked for [m]
    """
    guessed = np.minimum(interpolated(nodes, levels, middles), top)
    apart = np.abs(guessed - np.minimum(true, top))
    known = ~np.isnan(apart)
    count = known.sum(axis=1)
    return np.asarray(np.where(known, apart, 0.0).sum(axis=1) / np.maximum(count, 1))


def _cubic(nodes: Array, levels: Array, count: int) -> CubicHermiteSpline:
    """The monotone cubic through the finite rungs; at the last of them its slope knows that the next is endless."""
    slopes = PchipInterpolator(nodes[:count], levels[:count], axis=0).derivative()(nodes[:count])
    if count < nodes.size and count > 1:
        before, after = nodes[count - 1] - nodes[count - 2], nodes[count] - nodes[count - 1]
        slope = (levels[count - 1] - levels[count - 2]) / before
        slopes[-1] = 3.0 * (after + before) / (2.0 * after + before) * slope
    return CubicHermiteSpline(nodes[:count], levels[:count], slopes, axis=0)


def _towards(nodes: Array, levels: Array, count: int, at: Array) -> Array:
    """Levels between the last finite rung and the endless one above it; endless at once where nothing tells how."""
    if count < 2:
        return np.full((at.size, levels.shape[1]), np.inf)
    pole, last, before = nodes[count], levels[count - 1], levels[count - 2]
    near, far = (pole - nodes[count - 1]) ** -2.0, (pole - nodes[count - 2]) ** -2.0
    strength = (last - before) / (near - far)
    grown = last + strength * ((pole - at[:, np.newaxis]) ** -2.0 - near)
    return np.asarray(np.where(strength > 0.0, grown, np.inf))
