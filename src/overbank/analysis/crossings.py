"""Where a rising curve through a few nodes passes a threshold: the inner loop of the threshold method.

Between nodes the curve is a monotone piecewise cubic: the slope at a node is the weighted harmonic mean of
the slopes on both sides, and 0 where these differ in sign.

Source: Fritsch & Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300. From memory, unverified; the tests compare
with scipy's PchipInterpolator.

Where the upper node of an interval is infinite (a screen without a way over it, fully shut) there is no cubic. The
curve is then taken to grow like A + B/(X - x)^2 up to that node X, through the last two finite nodes: as the head does
that drives a flow through a closing opening.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from overbank._jit import kernel

ROOT_STEPS = 60
"""More than enough: each step at least halves the bracket whenever Newton's step leaves it."""


@kernel
def inner_slope(before: float, after: float, slope_before: float, slope_after: float) -> float:
    """Slope at a node between two intervals of length `before` and `after`; one of the slopes may be inf."""
    if not (slope_before > 0.0 and slope_after > 0.0):
        return 0.0
    weight_before = 2.0 * after + before
    weight_after = after + 2.0 * before
    return (weight_before + weight_after) / (weight_before / slope_before + weight_after / slope_after)


@kernel
def end_slope(near: float, far: float, slope_near: float, slope_far: float) -> float:
    """Slope at an end node: three-point formula, held between 0 and 3 times the slope of the end interval."""
    slope = ((2.0 * near + far) * slope_near - near * slope_far) / (near + far)
    return min(max(slope, 0.0), 3.0 * slope_near)


@kernel
def unit_root(rise: float, slope_low: float, slope_high: float, target: float) -> float:
    """t in [0, 1] at which the monotone cubic from 0 to `rise`, with these end slopes, equals `target`."""
    square = 3.0 * rise - 2.0 * slope_low - slope_high
    cube = slope_low + slope_high - 2.0 * rise
    low, high, t = 0.0, 1.0, target / rise
    for _ in range(ROOT_STEPS):
        error = t * (slope_low + t * (square + t * cube)) - target
        if error > 0.0:
            high = t
        else:
            low = t
        slope = slope_low + t * (2.0 * square + 3.0 * t * cube)
        step = t - error / slope if slope > 0.0 else -1.0
        if not low <= step <= high:
            step = 0.5 * (low + high)
        if abs(step - t) < 1e-8:  # Newton's error is of the order of the square of its last step
            return step
        t = step
    return t


@kernel
def node_slope(nodes: NDArray[np.float64], curve: NDArray[np.float64], k: int) -> float:
    """Slope of the monotone cubic at node k; a straight line when there are only two nodes."""
    last = nodes.size - 1
    if last == 1:
        return float((curve[1] - curve[0]) / (nodes[1] - nodes[0]))
    middle = min(max(k, 1), last - 1)
    before, after = nodes[middle] - nodes[middle - 1], nodes[middle + 1] - nodes[middle]
    slope_before = (curve[middle] - curve[middle - 1]) / before
    slope_after = (curve[middle + 1] - curve[middle]) / after
    if k == 0:
        return end_slope(before, after, slope_before, slope_after)
    if k == last:
        return end_slope(after, before, slope_after, slope_before)
    return inner_slope(before, after, slope_before, slope_after)


@kernel
def pole_crossing(
    nodes: NDArray[np.float64], curve: NDArray[np.float64], k: int, threshold: float, lowest: float
) -> float:
    """x below node k, where the curve is infinite, at which A + B/(nodes[k] - x)^2 passes the threshold.

    `lowest` where there is only one finite node, or the last two do not rise: the safe end.
    """
    if k < 2 or not curve[k - 1] > curve[k - 2]:
        return lowest
    near, far = nodes[k] - nodes[k - 1], nodes[k] - nodes[k - 2]
    strength = (curve[k - 1] - curve[k - 2]) / (1.0 / near**2 - 1.0 / far**2)
    return float(nodes[k] - 1.0 / np.sqrt(1.0 / near**2 + (threshold - curve[k - 1]) / strength))


@kernel
def fill_crossings(
    nodes: NDArray[np.float64],
    curves: NDArray[np.float64],
    thresholds: NDArray[np.float64],
    found: NDArray[np.float64],
) -> None:
    """x at which each curve first passes each threshold, into `found`.

    A crossing is always above the last node that does not pass: the next float up when that node sits on the
    threshold itself.

    Parameters
    ----------
    nodes : ascending, shape (K,), K >= 2
    curves : shape (N, K), contiguous along the nodes; +inf allowed, nan marks a failed sample
    thresholds : ascending, shape (L,)
    found : shape (L, N): -inf above the threshold at the lowest node already, +inf never above, nan failed
    """
    count = nodes.size
    for sample in range(curves.shape[0]):
        curve = curves[sample]
        failed = False
        for k in range(count):
            failed = failed or np.isnan(curve[k])
        k, known = 0, 0  # slopes are known for the interval below node `known`
        slope_low, slope_high = 0.0, 0.0
        for place in range(thresholds.size):
            threshold = thresholds[place]
            while not failed and k < count and curve[k] <= threshold:
                k += 1
            if failed:
                found[place, sample] = np.nan
            elif k == 0:
                found[place, sample] = -np.inf
            elif k == count:
                found[place, sample] = np.inf
            else:
                low, length = nodes[k - 1], nodes[k] - nodes[k - 1]
                rise, target = curve[k] - curve[k - 1], threshold - curve[k - 1]
                just_above = np.nextafter(low, np.inf)
                found[place, sample] = just_above
                if np.isinf(rise):
                    crossing = pole_crossing(nodes, curve, k, threshold, just_above)
                    found[place, sample] = min(max(crossing, just_above), nodes[k])
                elif target > 0.0:
                    if known != k:
                        slope_low = length * node_slope(nodes, curve, k - 1)
                        slope_high = length * node_slope(nodes, curve, k)
                        known = k
                    along = unit_root(rise, slope_low, slope_high, target)
                    found[place, sample] = min(max(low + along * length, just_above), nodes[k])
