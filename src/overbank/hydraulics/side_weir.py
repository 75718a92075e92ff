"""A side weir: water that leaves a channel over a crest along its side, and does not come back.

Along the crest the energy level stays (De Marchi), and the flow grows going upstream by what falls over:

    dQ/ds = C h^1.5,      h = z - zw,      z the subcritical level with Q and the energy E, critical depth at least

With D = E - P above the height P of the crest and y = P + D c, c = 1/(1 + t^2), the way from the lower end is

    s = (2g)^0.5 / (C D)  integral of  g0 + g1 c + g2 c^2  over t from t2,      t = ((E - y)/(y - P))^0.5
    g0 = (b + m P) P - 2 D (b + 2 m P),  g1 = 3 D (b + 2 m P) - 4 m D^2,  g2 = 5 m D^2

for a bed b wide and sides of slope m (derived here), which for a rectangle is De Marchi's

    L = 3/2 B/Cm [F(y2) - F(y1)],      C = 2/3 Cm (2 g)^0.5
    F = (2 E - 3 P)/(E - P) ((E - y)/(y - P))^0.5 - 3 asin ((E - y)/(E - P))^0.5

Where the flow comes to critical depth the energy rises with it, as everywhere here: no supercritical water is followed.

For a given energy below, flows above never cross (a differential equation of one unknown whose right side rises with
the energy): so the flow above rises with the flow below and with the level below, which is all that the row asks for.
Source: G. De Marchi (1934), L'Energia Elettrica 11, 849-860 (from memory, unverified; the tests hold it against SciPy's
integration of the equation).
"""

from __future__ import annotations

from math import asin, atan, inf, sqrt
from typing import NamedTuple

from overbank._jit import kernel, take
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.columns import size
from overbank.hydraulics.crests import three_halves
from overbank.hydraulics.rows import Table, put
from overbank.hydraulics.sections import Section, area
from overbank.hydraulics.uniform import critical_depth, froude, specific_energy, subcritical_depth

NONE_OVER, OVER_SIDE, CRITICAL_ABOVE = 1, 2, 3
"""What governs: no water comes over the crest; it falls over it; it does, and is critical at the upper end."""

STEPS = 8
"""Steps of the classical rule of Runge and Kutta where the flow is critical along the crest (own choice)."""

FARTHEST = 1e8
"""Of t, from which on a crest has no water above it."""


class SideWeir(NamedTuple):
    """A channel with a crest along its side.

    section : of the channel, open to the sky; its roughness is not used
    bed : level of its bed, the same along the crest [m]; length : of the crest along the flow [m]
    crest : its level, above the bed [m]; coefficient : C of q = C h^1.5 [m^0.5/s]
    """

    section: Section
    bed: float
    length: float
    crest: float
    coefficient: float


class SideWeirState(NamedTuple):
    """What a side weir does with the flow below it.

    level, energy : at the upper end [m]; `inf` where water stands endlessly high
    regime : NONE_OVER, OVER_SIDE or CRITICAL_ABOVE
    flow_above, flow_below, over_flow : at the upper end, at the lower, and over the crest [m3/s]
    depth, velocity, froude : at the upper end [m], [m/s], [-]; depth_below : at the lower end [m]
    """

    level: float
    energy: float
    regime: float
    flow_above: float
    flow_below: float
    over_flow: float
    depth: float
    velocity: float
    froude: float
    depth_below: float


@kernel
def de_marchi(depth: float, energy: float, height: float) -> float:
    """De Marchi's function F [-]; depth, energy, height : y, E and P above the bed [m], P < y <= E."""
    up, span = energy - depth, energy - height
    first = (2.0 * energy - 3.0 * height) / span * sqrt(up / (depth - height))
    return first - 3.0 * asin(sqrt(up / span))


@kernel
def subramanya_awasthy(froude: float) -> float:
    """Cm of a sharp side weir, 0.611 (1 - 3 F^2/(F^2 + 2))^0.5 [-]; froude : just above it, 0 to 1 [-].

    Source: K. Subramanya and S. C. Awasthy (1972), Journal of the Hydraulics Division, ASCE, 98(HY1) (from memory,
    unverified). To judge a given coefficient by; not used in the solver.
    """
    squared = froude * froude
    return 0.611 * sqrt(max(1.0 - 3.0 * squared / (squared + 2.0), 0.0))


class Profile(NamedTuple):
    """The water along a crest: P and D [m], g0, g1 and g2 [m2], and (2g)^0.5 / (C D) [1/m]."""

    height: float
    head: float
    g0: float
    g1: float
    g2: float
    scale: float


@kernel
def profile_of(w: SideWeir, energy: float) -> Profile:
    """The profile of an energy above the bed [m], more than the height of the crest."""
    s, p = w.section, w.crest - w.bed
    d, width = energy - p, s.width + 2.0 * s.side_slope * p
    g0 = (s.width + s.side_slope * p) * p - 2.0 * d * width
    g1 = 3.0 * d * width - 4.0 * s.side_slope * d * d
    return Profile(p, d, g0, g1, 5.0 * s.side_slope * d * d, sqrt(2.0 * GRAVITY) / (w.coefficient * d))


@kernel
def _way(p: Profile, t: float) -> float:
    """Length of crest from t = 0 to t [m]."""
    c, angle = 1.0 / (1.0 + t * t), atan(t)
    return p.scale * (p.g0 * t + p.g1 * angle + 0.5 * p.g2 * (t * c + angle))


@kernel
def _critical_place(p: Profile) -> float:
    """t of critical flow, where g0 + g1 c + g2 c^2 is nought; `FARTHEST` where that is not above the crest."""
    if p.g0 >= 0.0:
        return FARTHEST
    c = -2.0 * p.g0 / (p.g1 + sqrt(p.g1 * p.g1 - 4.0 * p.g0 * p.g2))
    return sqrt(max(1.0 / c - 1.0, 0.0))


@kernel
def _upper_place(p: Profile, begin: float, critical: float, length: float) -> float:
    """t at the upper end of the crest."""
    start, high = _way(p, begin) + length, min(critical, begin + 1.0)
    while high < critical and _way(p, high) < start:
        high = min(critical, 2.0 * high)
    f_high = _way(p, high) - start
    if f_high <= 0.0:
        return high
    bracket = roots.start(begin, -length, high, f_high)
    while roots.is_open(bracket, 1e-14 * (1.0 + high)):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _way(p, x) - start)
    return roots.best(bracket)


@kernel
def _over_critical(w: SideWeir, flow: float) -> float:
    """Flow over each metre of the crest at critical depth [m2/s]."""
    return w.coefficient * three_halves(max(w.bed + critical_depth(w.section, flow) - w.crest, 0.0))


@kernel
def _critical_flow(w: SideWeir, flow: float, length: float) -> float:
    """Flow at the upper end of a length of crest along which it is critical [m3/s]."""
    step = length / STEPS
    for _ in range(STEPS):
        k1 = _over_critical(w, flow)
        k2 = _over_critical(w, flow + 0.5 * step * k1)
        k3 = _over_critical(w, flow + 0.5 * step * k2)
        k4 = _over_critical(w, flow + step * k3)
        flow += step / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
    return flow


@kernel
def upper_end(w: SideWeir, flow: float, depth: float) -> tuple[float, float, int]:
    """Flow [m3/s] and depth [m] at the upper end for those at the lower, and what governs."""
    energy = specific_energy(w.section, flow, depth)
    if depth <= w.crest - w.bed:
        return flow, depth, NONE_OVER
    p = profile_of(w, energy)
    begin, critical = sqrt(max(energy - depth, 0.0) / (depth - p.height)), _critical_place(p)
    t, left = begin, w.length
    if begin < critical:
        t = _upper_place(p, begin, critical, w.length)
        left = w.length - (_way(p, t) - _way(p, begin))
        depth = p.height + p.head / (1.0 + t * t)
        flow = max(flow, area(w.section, depth) * sqrt(2.0 * GRAVITY * p.head * t * t / (1.0 + t * t)))
    if t < critical or critical >= FARTHEST:
        return flow, depth, OVER_SIDE
    flow = _critical_flow(w, flow, max(left, 0.0))
    return flow, critical_depth(w.section, flow), CRITICAL_ABOVE


@kernel
def side_weir_state(w: SideWeir, flow: float, level_below: float, energy_below: float) -> SideWeirState:
    """The whole state, for the flow that stays in the channel [m3/s] and levels of water and energy just below [m]."""
    if level_below == inf:
        return SideWeirState(inf, inf, float(OVER_SIDE), inf, flow, inf, inf, 0.0, 0.0, inf)
    s = w.section
    below = max(level_below - w.bed, 0.0)
    if flow > 0.0:
        below = max(below, subcritical_depth(s, flow, max(energy_below - w.bed, 0.0)), critical_depth(s, flow))
    above, depth, regime = upper_end(w, flow, below)
    velocity = above / area(s, depth) if above > 0.0 else 0.0
    swift = froude(s, above, depth) if above > 0.0 else 0.0
    energy = w.bed + specific_energy(s, above, depth)
    return SideWeirState(
        *(w.bed + depth, energy, float(regime), above, flow, above - flow, depth, velocity, swift, below)
    )


class SideWeirRow(NamedTuple):
    """What a side weir takes of one sample."""

    weir: SideWeir
    flow: float
    tailwater: float
    energy: float


SECTION, WEIR = size(Section), size(SideWeir)
REST = WEIR - SECTION


@kernel
def side_weir_states(inputs: Table, results: Table) -> None:
    """Everything in `SideWeirState`, for a `SideWeirRow`."""
    for i in range(inputs.shape[1]):
        column = inputs[:, i]
        weir = SideWeir(Section(*take(column, 0, SECTION)), *take(column, SECTION, REST))
        flow, level, energy = take(column, WEIR, 3)
        put(results, i, side_weir_state(weir, flow, level, energy))
