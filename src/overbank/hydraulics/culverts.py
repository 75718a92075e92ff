"""Headwater of a culvert barrel: inlet control, and what debris or silt does to it and to outlet control.

Source: FHWA, "Hydraulic Design of Highway Culverts", HDS-5, 2nd edition, FHWA-NHI-01-020 (2001), read in the source
except where said: inlet equations appendix A. Its constants: tables/inlets.csv.

All heads are energy heads above the *inlet* invert, per barrel. Without an approach its velocity is neglected, which
is the usual, safe choice (HDS-5 p. 35-36, 46).

Departures from the printed procedure, all so that headwater never falls when flow or tailwater rises:
the head is never below critical energy (the printed slope term makes it negative at very low flow); outlet
control is always computed by a profile and never left out on steep barrels (`outlet_control`); the zone between the
two inlet equations, which HDS-5 draws by hand as a tangent, is a monotone cubic.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

from overbank._jit import kernel
from overbank.hydraulics import roots
from overbank.hydraulics.outlet_control import Lay, outlet_head_from, silted_outlet_head
from overbank.hydraulics.screens import (
    BOTTOM_UP,
    FLOATING_RAFT,
    SHUT,
    UNIFORM,
    screen_head,
)
from overbank.hydraulics.sections import SILT_MANNING_N, Section, area, clear_height, silt_height, with_silt
from overbank.hydraulics.uniform import critical_depth, critical_energy, subcritical_depth, velocity_head

KU = sqrt(1.0 / 0.3048)
"""Turns Q / (A D^0.5) from SI into the US scale of the published constants, 1.811."""

UNSUBMERGED_TO = 3.5
SUBMERGED_FROM = 4.0
"""Discharge intensities between which neither inlet equation holds (from memory, unverified; HDS-5 says "about")."""

SLOPE_TERM_FROM = 0.5
"""Intensity from which the slope term counts in full; below it shrinks to nothing at no flow (own proposal)."""

LIMITS = {"inlet head over rise": (0.5, 3.0)}
"""Range of the fit to the same inlet data in TxDOT, Hydraulic Design Manual, ch. 8 sec. 3 (read in the source)."""


class Ends(NamedTuple):
    """The water at both ends of the barrels.

    head_below : velocity head of the water below, 0 for still water [m]; a `Lay` carries it to the outlet
    approach : section of the channel that brings the water, width 0 for a still pool; approach_bed : its bed level, or
        its height above the inlet invert in `barrel_heads` [m]
    """

    head_below: float
    approach: Section
    approach_bed: float


STILL = Ends(0.0, Section(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0), 0.0)
"""Still water below and a still pool above."""


class InletRow(NamedTuple):
    """Constants of one inlet: form 1 or 2; K, M unsubmerged; c, Y submerged; slope factor -0.5, mitred +0.7."""

    form: float
    K: float
    M: float
    c: float
    Y: float
    slope_factor: float


@kernel
def discharge_intensity(flow: float, opening_area: float, opening_height: float) -> float:
    """q = Ku Q / (A D^0.5), the scale of the inlet equations [-]; flow per barrel."""
    return KU * flow / (opening_area * sqrt(opening_height))


@kernel
def unsubmerged_ratio(row: InletRow, q: float, critical_energy_ratio: float, slope: float) -> float:
    """H/D before the inlet drowns. Form 1: Ec/D + K q^M + Ks S; form 2: K q^M."""
    if row.form == 1.0:
        slope_term = row.slope_factor * slope * min(1.0, q / SLOPE_TERM_FROM)
        return critical_energy_ratio + row.K * q**row.M + slope_term
    return row.K * q**row.M


@kernel
def submerged_ratio(row: InletRow, q: float, slope: float) -> float:
    """H/D once the inlet is drowned: c q^2 + Y + Ks S."""
    return row.c * q * q + row.Y + row.slope_factor * slope


@kernel
def _held_ratio(s: Section, row: InletRow, q: float, flow: float, slope: float, height: float) -> float:
    """H/D before the inlet drowns, held to critical energy, below which no flow can pass."""
    energy = critical_energy(s, flow) / height
    return max(unsubmerged_ratio(row, q, energy, slope), energy)


@kernel
def _transition(t: float, gap: float, ends: tuple[float, float], slopes: tuple[float, float]) -> float:
    """Cubic between both ends, 0 <= t <= 1, that never falls: each slope held within 0 and three times the chord."""
    below, above = ends
    most = 3.0 * (above - below) / gap
    start, end = min(max(slopes[0], 0.0), most), min(slopes[1], most)
    u = 1.0 - t
    return (below * (1.0 + 2.0 * t) + gap * start * t) * u * u + (above * (3.0 - 2.0 * t) - gap * end * u) * t * t


@kernel
def inlet_head(s: Section, flow: float, slope: float, row: InletRow) -> float:
    """Inlet-control head above the inlet invert, clean barrel [m].

    s : barrel section; flow : per barrel [m3/s]; slope : of the barrel [-]; row : inlet constants.

    Range: unsubmerged up to q about 3.5, submerged from about 4.0, a monotone cubic with the end slopes of both curves
    between; accuracy of the procedure within 10 % of the head (HDS-5 p. 23).
    """
    return inlet_head_from(s, flow, critical_energy(s, flow), slope, row)


@kernel
def inlet_head_from(s: Section, flow: float, energy: float, slope: float, row: InletRow) -> float:
    """`inlet_head` where the critical energy is known already."""
    d = clear_height(s)
    q = discharge_intensity(flow, area(s, d), d)
    if q <= UNSUBMERGED_TO:
        return max(d * unsubmerged_ratio(row, q, energy / d, slope), energy)
    at, per_q = UNSUBMERGED_TO, flow / q
    below = _held_ratio(s, row, at, per_q * at, slope, d)
    if q >= SUBMERGED_FROM:
        ratio = max(submerged_ratio(row, q, slope), below)
    else:
        step = 1e-4
        before = _held_ratio(s, row, at - step, per_q * (at - step), slope, d)
        above = max(submerged_ratio(row, SUBMERGED_FROM, slope), below)
        gap = SUBMERGED_FROM - at
        slopes = ((below - before) / step, 2.0 * row.c * SUBMERGED_FROM)
        ratio = _transition((q - at) / gap, gap, (below, above), slopes)
    return max(d * ratio, energy)


@kernel
def _narrowed(s: Section, pattern: float, closed: float) -> tuple[Section, float, float]:
    """Section, area and height left of an inlet with `closed` metres of its height shut, by a raft or by silt."""
    left = s if pattern == FLOATING_RAFT else with_silt(s, closed)
    height = s.rise - closed
    return left, area(left, height), height


@kernel
def _narrowed_head(
    s: Section,
    flow: float,
    slope: float,
    row: InletRow,
    head_factor: float,
    pattern: float,
    closed: float,
    drowned: bool,
) -> float:
    """Inlet-control head above the invert by one of the two equations, with `closed` metres of the height shut."""
    left, opening, height = _narrowed(s, pattern, closed)
    q = discharge_intensity(flow, opening, height)
    floor = critical_energy(left, flow)
    if drowned:
        head = height * submerged_ratio(row, q, slope)
    else:  # a slope that raises the head counts on the whole rise, else it would count less as the height shrinks
        counted = slope * s.rise / height if row.slope_factor * slope > 0.0 else slope
        head = height * unsubmerged_ratio(row, q, floor / height, counted)
    bed = 0.0 if pattern == FLOATING_RAFT else closed
    return bed + head_factor * max(head, floor)


@kernel
def _closed_at(s: Section, flow: float, pattern: float, intensity: float) -> float:
    """Height that must be shut for the inlet to reach a discharge intensity that the clean one stays below."""
    wanted = KU * flow / intensity
    full = s.rise
    bracket = roots.start(0.0, area(s, full) * sqrt(full) - wanted, full, -wanted)
    while roots.is_open(bracket, 1e-11 * full):
        closed = roots.propose(bracket)
        _, opening, height = _narrowed(s, pattern, closed)
        bracket = roots.narrow(bracket, closed, opening * sqrt(height) - wanted)
    return roots.best(bracket)


@kernel
def _rising_head(
    s: Section, flow: float, slope: float, row: InletRow, head_factor: float, pattern: float, closed: float
) -> float:
    """Inlet-control head of a narrowed inlet, never less than with less of it shut.

    By themselves the two equations dip by up to 5 % of the rise where the lowered soffit or the raised bed drowns the
    inlet: a smaller opening of the same intensity has a proportionally smaller head. So the head is held to that of
    the clean inlet and to those at both ends of the zone between the equations, and is a straight line in the zone.
    """
    least = head_factor * inlet_head(s, flow, slope, row)
    _, opening, height = _narrowed(s, pattern, closed)
    q = discharge_intensity(flow, opening, height)
    if q <= UNSUBMERGED_TO:
        return max(least, _narrowed_head(s, flow, slope, row, head_factor, pattern, closed, False))
    start = discharge_intensity(flow, area(s, s.rise), s.rise)
    if start < UNSUBMERGED_TO:
        start = UNSUBMERGED_TO
        at = _closed_at(s, flow, pattern, start)
        least = max(least, _narrowed_head(s, flow, slope, row, head_factor, pattern, at, False))
    drowned = least
    if start < SUBMERGED_FROM:
        at = _closed_at(s, flow, pattern, SUBMERGED_FROM)
        drowned = max(least, _narrowed_head(s, flow, slope, row, head_factor, pattern, at, True))
    if q < SUBMERGED_FROM:
        return least + (drowned - least) * (q - start) / (SUBMERGED_FROM - start)
    return max(drowned, _narrowed_head(s, flow, slope, row, head_factor, pattern, closed, True))


@kernel
def _closed_height(s: Section, blockage: float, pattern: float) -> float:
    """Height that a raft (from above) or silt (from below) shuts to close a share of the full area."""
    if pattern == FLOATING_RAFT:
        return s.rise - silt_height(s, 1.0 - blockage)
    return silt_height(s, blockage)


@kernel
def blocked_inlet_head(
    s: Section,
    flow: float,
    slope: float,
    row: InletRow,
    head_factor: float,
    blockage: float,
    pattern: float,
) -> float:
    """Inlet-control head with the share `blockage` of the full area closed at the inlet [m]; `inf` when shut.

    uniform : width and area shrink alike, so the head is that of the clean inlet at flow / (1 - B)
    floating raft : the soffit is lowered until the area below it is (1 - B) of the full one
    bottom up : the bed is raised by silt whose area is B of the full one; the head counts from the old invert

    `head_factor` multiplies the head over the bed (model error, median 1). The geometry is our own reading; the
    pattern matters as much as the share. More blockage is never taken to lower the head.
    """
    if blockage <= 0.0:
        return head_factor * inlet_head(s, flow, slope, row)
    if blockage >= SHUT:
        return inf
    if pattern == UNIFORM:
        return head_factor * inlet_head(s, flow / (1.0 - blockage), slope, row)
    closed = _closed_height(s, blockage, pattern)
    return _rising_head(s, flow, slope, row, head_factor, pattern, closed)


@kernel
def is_inlet_drowned(s: Section, flow: float, blockage: float, pattern: float) -> bool:
    """True when the inlet, blocked or clean, is past the range of the unsubmerged equation."""
    if blockage >= SHUT:
        return True
    if blockage <= 0.0 or pattern == UNIFORM:
        q = discharge_intensity(flow / (1.0 - max(blockage, 0.0)), area(s, s.rise), s.rise)
    else:
        _, opening, height = _narrowed(s, pattern, _closed_height(s, blockage, pattern))
        q = discharge_intensity(flow, opening, height)
    return q > UNSUBMERGED_TO


@kernel
def before_inlet(ends: Ends, flow: float, head: float) -> float:
    """Water level in the approach that has the energy which inlet control asks for [m]; `flow` of all barrels."""
    if ends.approach.width <= 0.0:
        return head
    return ends.approach_bed + subcritical_depth(ends.approach, flow, head - ends.approach_bed)


@kernel
def before_barrel(ends: Ends, flow: float, head: float, depth: float, entrance_loss: float) -> float:
    """Water level in the approach for the outlet-control head from a still pool [m]; `flow` of all barrels.

    The entrance loses the difference of velocity heads, Ke (V^2 - Va^2)/2g, so that a barrel like the channel loses
    nothing: z + (1 + Ke) Va^2/2g = y + (1 + Ke) V^2/2g, which is the depth of equal energy of a flow sqrt(1 + Ke) times
    as great. Where the approach is the faster, nothing is won back: the level is that of the depth in the barrel.
    Source: FHWA HEC-22, 4th edition (2024), eq. 9.7, p. 145, read in the source (contraction on the difference).
    """
    if ends.approach.width <= 0.0:
        return head
    felt = flow * sqrt(1.0 + entrance_loss)
    return max(ends.approach_bed + subcritical_depth(ends.approach, felt, head - ends.approach_bed), depth)


@kernel
def barrel_heads(
    s: Section,
    flow: float,
    lay: Lay,
    row: InletRow,
    head_factor: float,
    blockage: float,
    pattern: float,
    number: float = 1.0,
    ends: Ends = STILL,
    silt_n: float = SILT_MANNING_N,
) -> tuple[float, float]:
    """Inlet-control and outlet-control head of one of `number` barrels, blocked or clean [m above the inlet invert].

    The headwater is the higher of the two; neither is below critical energy. In outlet control, debris at the inlet is
    a screen of the barrel's own area (`screens.opening_flow`); silt fills the barrel along its whole length. Where an
    approach is given, both are heights of the water level in it, else of a still pool.
    """
    if blockage >= SHUT:
        return inf, inf
    silt = silt_height(s, blockage) if pattern == BOTTOM_UP else 0.0
    if silt > 0.0:
        energy = silt + critical_energy(with_silt(s, silt, silt_n), flow)
        inlet = max(blocked_inlet_head(s, flow, lay.slope, row, head_factor, blockage, pattern), energy)
        outlet, depth = silted_outlet_head(s, silt, silt_n, flow, lay)
    else:
        critical = critical_depth(s, flow)
        energy = critical + velocity_head(s, flow, critical)
        needed = energy
        if blockage <= 0.0:
            inlet = needed = max(head_factor * inlet_head_from(s, flow, energy, lay.slope, row), energy)
        else:
            inlet = max(blocked_inlet_head(s, flow, lay.slope, row, head_factor, blockage, pattern), energy)
        outlet, depth = outlet_head_from(s, flow, critical, lay, needed)
    outlet = before_barrel(ends, flow * number, outlet, depth, lay.entrance_loss)
    inlet = before_inlet(ends, flow * number, inlet)
    if blockage <= 0.0 or pattern == BOTTOM_UP:
        return inlet, outlet
    d = clear_height(s)
    width = area(s, d) / d
    return inlet, screen_head(flow, outlet, width, d, 1.0, 0.0, inf, blockage, pattern, 0.0)
