"""Area, conveyance, energy, normal and critical level of a surveyed section whose roughness varies across it.

Roughness is combined by one of three rules, which is a choice worth more than many an uncertain number, so it may be
uncertain itself:

subdivided   K = sum A_i (A_i/P_i)^(2/3) / n_i; the lines between zones are not wetted. The same as Lotter's rule.
Horton       one n for the whole section, [sum(P_i n_i^1.5) / P]^(2/3); the same velocity everywhere
Pavlovskii   one n for the whole section, [sum(P_i n_i^2) / P]^(1/2); forces add

The last two are for mixed roughness around one compact channel. Over a flood plain they make the conveyance
fall as the water spreads, and then there can be three normal levels for one flow. Rules from memory,
unverified, widely printed; none of five such rules was found satisfactory in compound channels in 277 points
(Cao, Yang and Liu 2004, read in the abstract).
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.surveyed_table import SurveyTable

SUBDIVIDED, HORTON, PAVLOVSKII = 0, 1, 2
METHODS = ("subdivided", "horton", "pavlovskii")
"""Words for the codes, in their order."""

STEPS, FEWEST_STEPS, FINEST = 16, 2, 1.0 / 128.0
"""Parts into which an interval between surveyed levels is cut when looking for roots: 16, or fewer where they would be
finer than 1/128 of the section's height, but 2 at least."""

BESIDE = 1e-8
"""How far above a root the search for the next begins [m]."""


class Surveyed(NamedTuple):
    """A surveyed section with the numbers of one sample.

    table : `surveyed_table.survey_table(...)`
    manning : roughness of each zone, from left to right (zones,) [s/m^(1/3)]
    method : SUBDIVIDED, HORTON or PAVLOVSKII
    shift : added to every level of the survey, the error of its datum [m]
    """

    table: SurveyTable
    manning: NDArray[np.float64]
    method: float
    shift: float


@kernel
def bed_level(s: Surveyed) -> float:
    """The lowest point [m]."""
    return s.table.breaks[0] + s.shift


@kernel
def place(s: Surveyed, level: float) -> tuple[int, float]:
    """Interval that holds a level, and the height above its foot; interval -1 below the bed."""
    z = level - s.shift
    j = int(np.searchsorted(s.table.breaks, z, side="right")) - 1
    return j, z - s.table.breaks[max(j, 0)]


@kernel
def zone_at(s: Surveyed, i: int, j: int, t: float) -> tuple[float, float, float, float]:
    """Area, its rate (the width), perimeter and its rate, of zone i."""
    a, p = s.table.areas[i, j], s.table.perimeters[i, j]
    return a[0] + t * (a[1] + t * a[2]), a[1] + 2.0 * t * a[2], p[0] + t * p[1], p[1]


@kernel
def _whole(s: Surveyed, j: int, t: float) -> tuple[float, float, float]:
    """Area, width and perimeter of all zones."""
    area = width = perimeter = 0.0
    for i in range(s.manning.size):
        a, b, p, _ = zone_at(s, i, j, t)
        area += a
        width += b
        perimeter += p
    return area, width, perimeter


@kernel
def area(s: Surveyed, level: float) -> float:
    """Flow area below a level [m2]."""
    j, t = place(s, level)
    return _whole(s, j, t)[0] if j >= 0 else 0.0


@kernel
def top_width(s: Surveyed, level: float) -> float:
    """Width of the water surface [m]; of a level stretch of ground at that very level, wet."""
    j, t = place(s, level)
    return _whole(s, j, t)[1] if j >= 0 else 0.0


@kernel
def wetted_perimeter(s: Surveyed, level: float) -> float:
    """Wetted perimeter, the walls above the end points included, lines between zones not [m]."""
    j, t = place(s, level)
    return _whole(s, j, t)[2] if j >= 0 else 0.0


@kernel
def _power_two_thirds(x: float) -> float:
    root = np.cbrt(x)
    return root * root


@kernel
def conveyance_at(s: Surveyed, j: int, t: float) -> float:
    """Manning conveyance at the height t in interval j, by the section's method [m3/s]."""
    total = whole_area = whole_perimeter = rough = 0.0
    for i in range(s.manning.size):
        a, _, p, _ = zone_at(s, i, j, t)
        n = s.manning[i]
        if a > 0.0 and s.method == SUBDIVIDED:
            total += a * _power_two_thirds(a / p) / n
        whole_area += a
        whole_perimeter += p
        rough += p * (n * sqrt(n) if s.method == HORTON else n * n)
    if s.method == SUBDIVIDED or whole_area <= 0.0:
        return total
    share = rough / whole_perimeter
    n = _power_two_thirds(share) if s.method == HORTON else sqrt(share)
    return whole_area * _power_two_thirds(whole_area / whole_perimeter) / n


@kernel
def conveyance(s: Surveyed, level: float) -> float:
    """Manning conveyance by the section's method; Q = K sqrt(friction slope) [m3/s]."""
    j, t = place(s, level)
    return conveyance_at(s, j, t) if j >= 0 else 0.0


@kernel
def composite_manning(s: Surveyed, level: float) -> float:
    """The one roughness with which the whole section has the conveyance of its method, A R^(2/3) / K [s/m^(1/3)].

    For a subdivided section this is Lotter's n = P R^(5/3) / sum(P_i R_i^(5/3) / n_i).
    """
    j, t = place(s, level)
    a, _, p = _whole(s, j, t)
    return a * _power_two_thirds(a / p) / conveyance_at(s, j, t)


@kernel
def terms_at(s: Surveyed, j: int, t: float) -> tuple[float, float, float]:
    """Conveyance, alpha / A^2 and its rate with the level, at the height t in interval j.

    Subdivided: alpha / A^2 = sum(K_i^3 / A_i^2) / K^3. Whole-section methods: 1 / A^2, alpha being 1.
    """
    if s.method != SUBDIVIDED:
        a, b, _ = _whole(s, j, t)
        return (conveyance_at(s, j, t), 1.0 / (a * a), -2.0 * b / (a * a * a)) if a > 0.0 else (0.0, inf, -inf)
    total = total_rate = cubes = cubes_rate = 0.0
    for i in range(s.manning.size):
        a, b, p, slant = zone_at(s, i, j, t)
        if a > 0.0:
            k = a * _power_two_thirds(a / p) / s.manning[i]
            cube = k * k * k / (a * a)
            total += k
            total_rate += k * (5.0 * b / a - 2.0 * slant / p) / 3.0
            cubes += cube
            cubes_rate += cube * (3.0 * b / a - 2.0 * slant / p)
    if total <= 0.0:
        return 0.0, inf, -inf
    term = cubes / (total * total * total)
    return total, term, term * (cubes_rate / cubes - 3.0 * total_rate / total)


@kernel
def energy_coefficient(s: Surveyed, level: float) -> float:
    """alpha, by which the velocity head of the mean velocity is multiplied [-].

    Of the zones, [sum(K_i^3 / A_i^2)] / [K^3 / A^2], for a subdivided section; 1 for the whole-section methods.
    """
    j, t = place(s, level)
    return terms_at(s, j, t)[1] * _whole(s, j, t)[0] ** 2


@kernel
def energy_level(s: Surveyed, flow: float, level: float) -> float:
    """Level plus alpha V^2/2g [m]; `inf` at and below the bed for any flow."""
    j, t = place(s, level)
    if flow <= 0.0:
        return level
    return level + flow * flow / (2.0 * GRAVITY) * terms_at(s, j, t)[1] if j >= 0 else inf


@kernel
def specific_energy(s: Surveyed, flow: float, level: float) -> float:
    """Energy above the lowest point [m]."""
    return energy_level(s, flow, level) - bed_level(s)


@kernel
def froude_squared(s: Surveyed, flow: float, level: float) -> float:
    """Fr^2 = 1 - dE/dZ = Q^2/(g A^3) (alpha T - A/2 dalpha/dZ) [-]: 1 where the energy is least.

    Where alpha varies with the level the simpler Q^2 T/(g A^3) is not 1 there. Closed form, the derivative of
    the energy.
    """
    j, t = place(s, level)
    return -flow * flow / (2.0 * GRAVITY) * terms_at(s, j, t)[2]


CONVEYANCE, GRADIENT, ENERGY = 0, 1, 2
"""What a search follows upwards: conveyance or energy level less what is wanted; the rate of energy with the level."""


@kernel
def _followed(s: Surveyed, what: int, flow: float, wanted: float, j: int, t: float) -> float:
    if what == CONVEYANCE:
        return conveyance_at(s, j, t) - wanted
    _, term, rate = terms_at(s, j, t)
    head = flow * flow / (2.0 * GRAVITY)
    if what == GRADIENT:
        return 1.0 + head * rate
    return s.table.breaks[j] + t + head * term - wanted


@kernel
def _crossing(
    s: Surveyed, what: int, flow: float, wanted: float, j: int, ends: tuple[float, float, float, float]
) -> float:
    """Height in interval j where what is followed changes sign between two heights with their values."""
    bracket = roots.start(*ends)
    while roots.is_open(bracket, 1e-11):
        t = roots.propose(bracket)
        bracket = roots.narrow(bracket, t, _followed(s, what, flow, wanted, j, t))
    return roots.best(bracket)


@kernel
def next_crossing(s: Surveyed, what: int, flow: float, wanted: float, above: float) -> tuple[float, bool]:
    """First level above `above` where what is followed changes sign, and whether it rises there; inf, False for none.

    Every interval between surveyed levels is walked in steps, and a jump from one to the next counts. Above the
    highest point, between vertical walls, conveyance and the rate of energy only rise.
    """
    breaks = s.table.breaks
    last = breaks.size - 1
    finest = FINEST * (breaks[last] - breaks[0])
    if above == inf:
        return inf, False
    j, t = place(s, max(above, bed_level(s)))
    f = _followed(s, what, flow, wanted, j, t)
    while True:
        top = breaks[j + 1] - breaks[j] if j < last else inf
        step = max(top / STEPS, min(top / FEWEST_STEPS, finest)) if j < last else max(finest * 8.0, 1e-3)
        while t < top:
            if j == last and (f >= 0.0 or t > 1e6):
                return inf, False
            t_next = t + step if t + 1.5 * step < top else top
            f_next = _followed(s, what, flow, wanted, j, t_next)
            if (f_next >= 0.0) != (f >= 0.0):
                t = _crossing(s, what, flow, wanted, j, (t, f, t_next, f_next))
                return breaks[j] + t + s.shift, f_next >= 0.0
            t, f = t_next, f_next
            if j == last:
                step *= 2.0
        j, t = j + 1, 0.0
        f_next = _followed(s, what, flow, wanted, j, t)
        if (f_next >= 0.0) != (f >= 0.0):
            return breaks[j] + s.shift, f_next >= 0.0
        f = f_next
