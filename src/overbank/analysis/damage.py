"""Expected annual damage, and what damages and costs over many years are worth today.

    expected annual damage    integral of D(p) dp over the annual exceedance probability p, by straight lines
    worth today of one a year for n years at the rate r    (1 - (1 + r)^-n) / r, and n where r = 0

Source: Chow, Maidment & Mays 1988, Applied Hydrology, example 13.2.3, whose table the tests recompute (read in a
translated reprint); the closed form for Gumbel maxima and the annuity are closed forms.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Array, Estimate, over_replicates
from overbank.errors import DomainError

SMALL = 0.005
"""What lies above the levels looked at is told from this share of the expected damage on."""

REACH, STEPS, RATIO = 20.0, 400, 3.0
"""How far a curve is carried on, in its lengths of decay, in how many steps; what it falls by where that is read."""

METHOD = "damage over the annual probability of its level, Student t over replicates"


def expected(probability: ArrayLike, damage: ArrayLike) -> float:
    """Expected annual damage by trapezoids [money a year].

    Parameters
    ----------
    probability : annual exceedance probabilities, never rising
    damage : in the flood of each [money], never falling; damage rarer than the last is taken as that of the last

    Raises
    ------
    DomainError : a probability rises, or there is not one damage for each
    """
    p, d = np.asarray(probability, dtype=np.float64), np.asarray(damage, dtype=np.float64)
    if p.shape != d.shape or p.ndim != 1 or np.any(np.diff(p) > 0.0):
        raise DomainError("expected damage: expected probabilities that never rise, and one damage for each")
    return float(np.sum(-np.diff(p) * 0.5 * (d[1:] + d[:-1])) + p[-1] * d[-1])


def of_levels(curve: Curve, damage: Callable[[Array], Array], bends: ArrayLike = ()) -> tuple[Estimate, Array]:
    """Expected annual damage off the annual exceedance of a level, and that of each replicate [money a year].

    Parameters
    ----------
    curve : annual probability that each level is passed
    damage : levels [m] -> damage [money]
    bends : levels at which the damage bends or jumps [m]

    Above its levels the curve is carried on as an exponential; all of what that adds is in the interval. Below them
    nothing is damaged; what there might be at most is in its upper end.
    """
    each = np.array([of_curve(curve.at, row, damage, bends) for row in curve.replicates])
    found = over_replicates(each, METHOD, (0.0, np.inf))
    above = found.value - float(np.mean([_within(curve.at, row, damage, bends) for row in curve.replicates]))
    below = (1.0 - float(curve.probability[0])) * float(damage(curve.at)[0])
    note = f"{above:.2g} a year of it lies above the levels looked at" if above > SMALL * found.value else ""
    return Estimate(found.value, max(found.low - above, 0.0), found.high + above + below, METHOD, note), each


def of_curve(levels: Array, probability: Array, damage: Callable[[Array], Array], bends: ArrayLike = ()) -> float:
    """Expected annual damage off one curve, carried on above its levels [money a year]."""
    at, falling = carried_on(levels, np.minimum.accumulate(probability))
    return _within(at, falling, damage, bends)


def carried_on(levels: Array, probability: Array) -> tuple[Array, Array]:
    """The curve and its exponential tail, which falls as fast as the curve on its last fall by a factor of three."""
    last = float(probability[-1])
    ratio = min(RATIO, float(probability[0]) / last) if last > 0.0 else 1.0
    if ratio <= 1.0:
        return levels, probability
    from_level = float(np.interp(ratio * last, probability[::-1], levels[::-1]))
    steps = np.linspace(0.0, REACH, STEPS + 1)[1:]
    beyond = levels[-1] + steps * (float(levels[-1]) - from_level) / np.log(ratio)
    return np.concatenate([levels, beyond]), np.concatenate([probability, last * np.exp(-steps)])


def _within(levels: Array, probability: Array, damage: Callable[[Array], Array], bends: ArrayLike) -> float:
    """Of the levels given, and of every bend among them with the next number above it, where a damage may begin."""
    wanted = np.asarray(bends, dtype=np.float64)
    both = np.concatenate([wanted, np.nextafter(wanted, np.inf)])
    at = np.unique(np.concatenate([levels, both[(both > levels[0]) & (both < levels[-1])]]))
    return expected(np.minimum.accumulate(np.interp(at, levels, probability)), damage(at))


def annuity(rate: float, years: int) -> float:
    """Worth today of one at the end of each of so many years [-].

    Parameters
    ----------
    rate : discount rate a year [-], from 0
    """
    return float(years) if rate == 0.0 else float(-np.expm1(-years * np.log1p(rate)) / rate)
