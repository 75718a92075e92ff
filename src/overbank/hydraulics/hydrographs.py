"""Shapes of a flood: the share of its peak flow through its own time, and how long it runs above a capacity.

Time x is counted in times to peak, x = t / Tp, and a shape s(x) is 0 at x = 0 and 1 at x = 1. With a base flow Qb and a
peak Qp the flow is

    Q = Qb + (Qp - Qb) s(t / Tp)

The time above a share r of the peak, and the volume above it, are closed forms. A table is a polygon.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainc, gammaln, lambertw

Array = NDArray[np.float64]

FALLEN = 0.01
"""A gamma flood has no end: it is followed until it has fallen to this share of its peak."""

TIMES = (*(0.1 * step for step in range(21)), 2.2, 2.4, 2.6, 2.8, 3.0, 3.2, 3.4, 3.6, 3.8, 4.0, 4.5, 5.0)
SHARES = (
    *(0.0, 0.03, 0.10, 0.19, 0.31, 0.47, 0.66, 0.82, 0.93, 0.99, 1.0, 0.99, 0.93, 0.86, 0.78, 0.68, 0.56),
    *(0.46, 0.39, 0.33, 0.28, 0.207, 0.147, 0.107, 0.077, 0.055, 0.040, 0.029, 0.021, 0.015, 0.011, 0.005, 0.0),
)
"""Ordinates of the SCS dimensionless unit hydrograph (National Engineering Handbook part 630, ch. 16; second hand)."""


class Shape(Protocol):
    """A shape of a flood; `parameter` is its own number, one a sample, which a polygon does not look at."""

    def share(self, x: Array, parameter: Array) -> Array:
        """Share of the peak at times x [-], 0 before the flood and after it."""

    def end(self, parameter: Array) -> Array:
        """When the flood is over, in times to peak."""

    def above(self, share: Array, parameter: Array) -> tuple[Array, Array]:
        """Time above a share of the peak [Tp], and the volume above it [Qp Tp]; nothing from a share of 1 on."""


@dataclass(frozen=True)
class Triangle:
    """A straight rise and a straight fall; its parameter f is the time of the fall over that of the rise.

    Above a share r: time (1 - r)(1 + f), volume (1 - r)^2 (1 + f)/2. Closed form.
    """

    def share(self, x: Array, parameter: Array) -> Array:
        return np.asarray(np.clip(np.minimum(x, 1.0 + (1.0 - x) / parameter), 0.0, 1.0))

    def end(self, parameter: Array) -> Array:
        return np.asarray(1.0 + parameter)

    def above(self, share: Array, parameter: Array) -> tuple[Array, Array]:
        over = 1.0 - np.clip(share, 0.0, 1.0)
        return over * (1.0 + parameter), over**2 * (1.0 + parameter) / 2.0


@dataclass(frozen=True)
class Gamma:
    """s = (x e^(1 - x))^a; its parameter a is how sharp it is: 3.697 has the volume of the SCS peak rate factor 484.

    A share r is passed where x e^(1 - x) = r^(1/a), at -W0 and -W-1 of -r^(1/a)/e (Lambert's W), and the volume below
    the curve is e^a a^-(a + 1) times the lower incomplete gamma function of a + 1 and a x. Closed forms.
    """

    def share(self, x: Array, parameter: Array) -> Array:
        x = np.maximum(x, 0.0)
        return np.asarray((x * np.exp(1.0 - x)) ** parameter)

    def _passed(self, share: Array, parameter: Array) -> tuple[Array, Array]:
        """The two times at which a share is passed; both 1 at the peak, where SciPy's W has no number."""
        argument = -(np.clip(share, FALLEN, 1.0) ** (1.0 / parameter)) / np.e
        at_peak = argument <= -1.0 / np.e
        inside = np.where(at_peak, -0.1, argument)
        first, last = (np.where(at_peak, 1.0, -lambertw(inside, branch).real) for branch in (0, -1))
        return first, last

    def end(self, parameter: Array) -> Array:
        return self._passed(np.full_like(parameter, FALLEN), parameter)[1]

    def above(self, share: Array, parameter: Array) -> tuple[Array, Array]:
        """Down to the share at which the flood counts as over."""
        first, last = self._passed(share, parameter)
        whole = np.exp(parameter - (parameter + 1.0) * np.log(parameter) + gammaln(parameter + 1.0))
        held = gammainc(parameter + 1.0, parameter * last) - gammainc(parameter + 1.0, parameter * first)
        over = np.asarray(last - first)
        return over, np.maximum(whole * held - np.clip(share, 0.0, 1.0) * over, 0.0)


@dataclass(frozen=True)
class Polygon:
    """Straight lines between given times and shares of the peak.

    times : in times to peak, rising from 0, 1 at the peak; shares : from 0 to 1
    """

    times: tuple[float, ...]
    shares: tuple[float, ...]

    def share(self, x: Array, parameter: Array) -> Array:  # noqa: ARG002
        return np.asarray(np.interp(x, self.times, self.shares, left=0.0, right=0.0))

    def end(self, parameter: Array) -> Array:
        return np.full_like(parameter, self.times[-1])

    def above(self, share: Array, parameter: Array) -> tuple[Array, Array]:  # noqa: ARG002
        """Summed over the lines: of each the part that lies above, and the trapezium or triangle that it bounds."""
        share = np.maximum(share, 0.0)
        time, volume = np.zeros_like(share), np.zeros_like(share)
        for start, end, one, other in zip(self.times, self.times[1:], self.shares, self.shares[1:], strict=False):
            low, high = min(one, other), max(one, other)
            part = np.clip((high - share) / (high - low), 0.0, 1.0) if high > low else 1.0 * (share < high)
            time += (end - start) * part
            volume += (end - start) * part * np.maximum(0.5 * (high + np.maximum(low, share)) - share, 0.0)
        return time, volume


SCS_UNIT = Polygon(TIMES, SHARES)
"""The SCS dimensionless unit hydrograph, by straight lines; its volume is 1.33595 Qp Tp."""


def flow(share: Array, peak: Array, base: Array) -> Array:
    """Q = Qb + (Qp - Qb) s [m3/s]; a base flow above the peak is taken as the peak, so that Q never falls with it."""
    least = np.minimum(base, peak)
    return np.asarray(least + (peak - least) * share)


def above(shape: Shape, parameter: Array, peak: Array, base: Array, capacity: Array) -> tuple[Array, Array]:
    """Time above a capacity [times to peak], and volume above it [m3/s times to peak]; closed form."""
    least = np.minimum(base, peak)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(peak > least, (capacity - least) / (peak - least), np.where(capacity < peak, 0.0, 1.0))
    hours, volume = shape.above(share, parameter)
    below = np.maximum(least - capacity, 0.0) * shape.end(parameter)
    return hours, volume * (peak - least) + below
