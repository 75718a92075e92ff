"""A bracketing root finder for use inside compiled formulas.

Numba cannot keep compiled code on disk when functions are passed as arguments, so the solver is turned inside
out: it proposes where to look, the caller evaluates its own formula there, and the bracket narrows.

    bracket = roots.start(low, f(low), high, f(high))
    while roots.is_open(bracket, tolerance):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, f(x))
    return roots.best(bracket)

Method: Chandrupatla (1997), "A new hybrid quadratic/bisection algorithm for finding the zero of a nonlinear
function without using derivatives", Advances in Engineering Software 28(3) 145-149; the same as in
scipy.optimize.elementwise, against which it is tested. Infinite values at an end are allowed: it then bisects.
"""

from __future__ import annotations

from math import isfinite
from typing import NamedTuple

from overbank._jit import kernel


class Bracket(NamedTuple):
    """Two ends with a change of sign between them, and where to look next (0 to 1)."""

    x1: float
    f1: float
    x2: float
    f2: float
    share: float
    turns: float


@kernel
def start(low: float, f_low: float, high: float, f_high: float) -> Bracket:
    """Bracket between two points whose values differ in sign."""
    return Bracket(high, f_high, low, f_low, 0.5, 0.0)


@kernel
def is_open(bracket: Bracket, tolerance: float) -> bool:
    """True while the root is known less well than `tolerance` (in x)."""
    if bracket.f1 == 0.0 or bracket.f2 == 0.0 or bracket.turns > 200.0:
        return False
    return abs(bracket.x2 - bracket.x1) > 2.0 * tolerance + 4e-16 * (abs(bracket.x1) + abs(bracket.x2))


@kernel
def propose(bracket: Bracket) -> float:
    """Where to evaluate next."""
    return bracket.x1 + bracket.share * (bracket.x2 - bracket.x1)


@kernel
def narrow(bracket: Bracket, x: float, f: float) -> Bracket:
    """The smaller bracket, once the value at the proposed point is known."""
    if (f > 0.0) == (bracket.f1 > 0.0):
        x2, f2, x3, f3 = bracket.x2, bracket.f2, bracket.x1, bracket.f1
    else:
        x2, f2, x3, f3 = bracket.x1, bracket.f1, bracket.x2, bracket.f2
    share = 0.5
    xi = (x - x2) / (x3 - x2)
    phi = (f - f2) / (f3 - f2)
    if phi * phi < xi and (1.0 - phi) * (1.0 - phi) < 1.0 - xi:
        quadratic = f / (f - f2) * f3 / (f3 - f2) - (x3 - x) / (x2 - x) * f / (f3 - f) * f2 / (f2 - f3)
        if isfinite(quadratic):
            share = quadratic
    least = 1e-9
    share = min(1.0 - least, max(least, share))
    return Bracket(x, f, x2, f2, share, bracket.turns + 1.0)


@kernel
def best(bracket: Bracket) -> float:
    """The end with the smaller value."""
    return bracket.x1 if abs(bracket.f1) <= abs(bracket.f2) else bracket.x2


@kernel
def upper(bracket: Bracket) -> float:
    """The higher end: where a level must not be underestimated and the formula jumps."""
    return max(bracket.x1, bracket.x2)
