"""A slow inverse, tabulated once: a cubic spline in the normal score, checked before it is trusted."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from .scores import Values

REACH = 8.25
"""The table covers normal scores from -REACH to REACH."""

NODES = 1025
"""Nodes of the table, evenly spaced, so that a value finds its piece without a search."""


class ScoreSpline:
    """Cubic spline through curve(z) on even nodes, for a curve that is smooth and rises with z.

    Scores at which the curve is not finite are left out, so the table may be shorter than REACH at either end.

    Parameters
    ----------
    curve : exact function of z, slow
    tolerance : largest error allowed half way between nodes, where a cubic spline errs most
    what : whose inverse it is, for the message

    Raises
    ------
    ValueError when the spline misses the curve by more than the tolerance, or does not rise everywhere.
    """

    def __init__(self, curve: Callable[[Values], Values], tolerance: float, what: str) -> None:
        nodes = np.linspace(-REACH, REACH, NODES)
        heights = curve(nodes)
        usable = np.flatnonzero(np.isfinite(heights))
        if len(usable) < 4:
            raise ValueError(f"expected a {what} that spreads over its range, got one without any width")
        nodes, heights = nodes[usable[0] : usable[-1] + 1], heights[usable[0] : usable[-1] + 1]
        cubic = CubicSpline(nodes, heights)
        middles = 0.5 * (nodes[1:] + nodes[:-1])
        between = cubic(middles)
        error = float(np.max(np.abs(between - curve(middles))))
        every = np.column_stack([heights[:-1], between]).ravel()
        if not error <= tolerance or np.any(np.diff(every) <= 0.0):
            raise ValueError(f"expected a {what} whose inverse a table can hold to {tolerance:g}, got {error:g}")
        self._low, self._high = float(nodes[0]), float(nodes[-1])
        self._step = float(nodes[1] - nodes[0])
        self._coefficients = np.ascontiguousarray(cubic.c)

    def covers(self, z: Values) -> NDArray[np.bool_]:
        """Where z lies within the table."""
        return (z >= self._low) & (z <= self._high)

    def __call__(self, z: Values) -> Values:
        """The spline at scores that the table covers."""
        place = (z - self._low) / self._step
        piece = np.minimum(place.astype(np.intp), self._coefficients.shape[1] - 1)
        d = (place - piece) * self._step
        c3, c2, c1, c0 = (row.take(piece) for row in self._coefficients)
        return ((c3 * d + c2) * d + c1) * d + c0
