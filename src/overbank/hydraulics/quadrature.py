"""Integral over a step of a level or depth, by the rule of Lobatto with five points, and where it comes to a value.

Both ends of the step are among the points, so that each is computed once for two steps. Simpson's rule with three of
the five tells how far that with three is off; that with five is far better. Where a reach ends inside a step, that
is where the integral of the polynomial through the five values comes to the distance that is left.

Source: M. Abramowitz and I. A. Stegun (1964), "Handbook of Mathematical Functions", 25.4.32 (from memory, unverified;
the tests hold points and weights to NumPy's Legendre polynomials and to what such rules integrate exactly).
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from overbank._jit import kernel

Values = tuple[float, float, float, float, float]
"""What is integrated, at the five places of a step."""

INNER = sqrt(3.0 / 7.0)
PLACES = (-1.0, -INNER, 0.0, INNER, 1.0)
"""Lobatto's five points between -1 and 1; Simpson's three are every second one of them."""

FIVE = (0.1, 49.0 / 90.0, 32.0 / 45.0, 49.0 / 90.0, 0.1)
THREE = (1.0 / 3.0, 0.0, 4.0 / 3.0, 0.0, 1.0 / 3.0)
"""Weights of both rules at these points."""

POWERS = np.linalg.inv(np.vander(np.array(PLACES), increasing=True))
"""What each value adds to each power of the polynomial through all five: powers along the rows."""


@kernel
def distance(values: Values, change: float) -> tuple[float, float]:
    """Distance in which the level changes by `change` [m], and how far the rule of three points is off."""
    five = three = 0.0
    for k in range(5):
        five += FIVE[k] * values[k]
        three += THREE[k] * values[k]
    return 0.5 * change * five, abs(0.5 * change * (five - three))


@kernel
def share_over(values: Values, change: float, part: float, whole: float) -> float:
    """Share of a step that a part of its distance takes, by Newton's method on the integral of the polynomial [-]."""
    c = (_power(0, values), _power(1, values), _power(2, values), _power(3, values), _power(4, values))
    half = 0.5 * change
    from_middle = part - half * _integral(c, -1.0)
    t = 2.0 * part / whole - 1.0
    for _ in range(40):
        rate = half * (c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * c[4]))))
        if rate == 0.0:  # at the very end, where it is critical depth or a crown
            break
        before = t
        t = min(1.0, max(-1.0, t + (from_middle - half * _integral(c, t) * t) / rate))
        if abs(t - before) < 1e-8:  # the next would be of the order of its square
            break
    return 0.5 * (1.0 + t)


@kernel
def _power(k: int, values: Values) -> float:
    """Factor of the k-th power in the polynomial through the five values."""
    total = 0.0
    for j in range(5):
        total += POWERS[k, j] * values[j]
    return total


@kernel
def _integral(c: tuple[float, ...], t: float) -> float:
    """Integral of the polynomial from 0 to t, over t."""
    return c[0] + t * (c[1] / 2.0 + t * (c[2] / 3.0 + t * (c[3] / 4.0 + t * c[4] / 5.0)))
