"""A slow inverse, tabulated once: a cubic spline in the normal score, checked before it is trusted."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from overbank.uncertain.checks import ParameterError
from overbank.uncertain.scores import Values, as_values

Curve = Callable[[Values], Values]

REACH = 8.25
"""The table covers normal scores from -REACH to REACH."""

NODES = 2049
"""Nodes of the table, evenly spaced, so that a value finds its piece without a search."""


class ScoreSpline:
    """Cubic spline through curve(z) on even nodes, for a curve that is smooth and rises with z.

    Scores at which the curve is not finite are left out: the table may stop short of REACH at either end.

    Parameters
    ----------
    curve : exact function of z, slow
    tolerance : largest error allowed half way between nodes, where a cubic spline errs most
    what : whose inverse it is, for the message

    Raises
    ------
    ValueError when the spline misses the curve by more than the tolerance, or does not rise everywhere.
    """

    def __init__(self, curve: Curve, tolerance: float, what: str) -> None:
        nodes = np.linspace(-REACH, REACH, NODES)
        heights = curve(nodes)
        usable = np.flatnonzero(np.isfinite(heights))
        if len(usable) < 4:
            raise ParameterError(f"a {what} that spreads over its range", "one without any width")
        nodes, heights = nodes[usable[0] : usable[-1] + 1], heights[usable[0] : usable[-1] + 1]
        from scipy.interpolate import CubicSpline  # slow to fetch, and only some families need it

        cubic = CubicSpline(nodes, heights)
        middles = 0.5 * (nodes[1:] + nodes[:-1])
        between = cubic(middles)
        error = float(np.max(np.abs(between - curve(middles))))
        every = np.column_stack([heights[:-1], between]).ravel()
        if not error <= tolerance or np.any(np.diff(every) <= 0.0):
            raise ParameterError(f"a {what} whose inverse a table holds to {tolerance:g}", f"an error of {error:g}")
        self._nodes, self._heights = nodes, heights
        self._step = float(nodes[1] - nodes[0])
        self._coefficients = np.ascontiguousarray(cubic.c)

    def height(self, z: Values, finish: Curve, exact: Curve) -> Values:
        """finish(spline(z)) within the table, exact(z) beyond it."""
        z = as_values(z)
        covered = (z >= self._nodes[0]) & (z <= self._nodes[-1])
        if covered.all():
            return finish(self._height(z))
        result = np.empty_like(z)
        result[covered] = finish(self._height(z[covered]))
        result[~covered] = exact(z[~covered])
        return result

    def score(self, height: Values, exact: Callable[[NDArray[np.bool_]], Values]) -> Values:
        """The score z with spline(z) = height; where the height is beyond the table, exact(where)."""
        height = as_values(height)
        covered = (height >= self._heights[0]) & (height <= self._heights[-1])
        if covered.all():
            return self._score(height)
        result = np.empty_like(height)
        result[covered] = self._score(height[covered])
        result[~covered] = exact(~covered)
        return result

    def _height(self, z: Values) -> Values:
        place = (z - self._nodes[0]) / self._step
        piece = np.minimum(place.astype(np.intp), len(self._nodes) - 2)
        d = (place - piece) * self._step
        c3, c2, c1, c0 = (row.take(piece) for row in self._coefficients)
        height: Values = ((c3 * d + c2) * d + c1) * d + c0
        return height

    def _score(self, height: Values) -> Values:
        """A search for the piece, a straight line across it, and two Newton steps on its cubic."""
        piece = np.clip(np.searchsorted(self._heights, height, side="right") - 1, 0, len(self._nodes) - 2)
        c3, c2, c1, c0 = (row.take(piece) for row in self._coefficients)
        d = self._step * (height - c0) / (self._heights[piece + 1] - c0)
        for _ in range(2):
            d = d - (((c3 * d + c2) * d + c1) * d + c0 - height) / ((3.0 * c3 * d + 2.0 * c2) * d + c1)
        score: Values = self._nodes[piece] + d
        return score
