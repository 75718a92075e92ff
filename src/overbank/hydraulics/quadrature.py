"""Integral over a step of a level or depth, by the rule of Kronrod with seven points, and where it comes to a value.

Gauss's rule with three of the seven points tells how far that with three is off; that with seven is far better.
Where a reach ends inside a step, the end is where the integral of the polynomial through the seven values comes to the
distance that is left.

Source: points and weights in D. K. Kahaner, C. Moler and S. Nash (1989), "Numerical Methods and Software" (from memory,
unverified; the tests hold them to what such rules integrate exactly).
"""

from __future__ import annotations

import numpy as np

from overbank._jit import kernel

Values = tuple[float, float, float, float, float, float, float]
"""What is integrated, at the seven places of a step."""

PLACES = (
    -0.960491268708020,
    -0.774596669241483,
    -0.434243749346802,
    0.0,
    0.434243749346802,
    0.774596669241483,
    0.960491268708020,
)
"""Kronrod's seven points between -1 and 1; Gauss's three are every second one of them."""

SEVEN = (
    0.104656226026467,
    0.268488089868333,
    0.401397414775962,
    0.450916538658474,
    0.401397414775962,
    0.268488089868333,
    0.104656226026467,
)
THREE = (0.0, 5.0 / 9.0, 0.0, 8.0 / 9.0, 0.0, 5.0 / 9.0, 0.0)
"""Weights of both rules at these points."""

POWERS = np.linalg.inv(np.vander(np.array(PLACES), increasing=True))
"""What each value adds to each power of the polynomial through all seven: powers along the rows."""


@kernel
def distance(values: Values, change: float) -> tuple[float, float]:
    """Distance in which the level changes by `change` [m], and how far the rule of three points is off."""
    seven = three = 0.0
    for k in range(7):
        seven += SEVEN[k] * values[k]
        three += THREE[k] * values[k]
    return 0.5 * change * seven, abs(0.5 * change * (seven - three))


@kernel
def change_over(values: Values, change: float, part: float, whole: float) -> float:
    """Change over a part of a step's distance `whole`, by Newton's method on the integral of the polynomial [m]."""
    low, high = (_power(0, values), _power(1, values), _power(2, values)), (_power(4, values), _power(5, values))
    c = (*low, _power(3, values), *high, _power(6, values))
    half = 0.5 * change
    from_middle = part - half * _integral(c, -1.0)
    t = 2.0 * part / whole - 1.0
    for _ in range(40):
        rate = half * (c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * (c[5] + t * c[6]))))))
        before = t
        t = min(1.0, max(-1.0, t + (from_middle - half * _integral(c, t) * t) / rate))
        if abs(t - before) < 1e-11:
            break
    return half * (1.0 + t)


@kernel
def _power(k: int, values: Values) -> float:
    """Factor of the k-th power in the polynomial through the seven values."""
    total = 0.0
    for j in range(7):
        total += POWERS[k, j] * values[j]
    return total


@kernel
def _integral(c: tuple[float, ...], t: float) -> float:
    """Integral of the polynomial from 0 to t, over t."""
    rest = c[3] / 4.0 + t * (c[4] / 5.0 + t * (c[5] / 6.0 + t * c[6] / 7.0))
    return c[0] + t * (c[1] / 2.0 + t * (c[2] / 3.0 + t * rest))
