"""Headwater of a culvert barrel: inlet control, outlet control, and what debris or silt does to both.

Source: FHWA, "Hydraulic Design of Highway Culverts", HDS-5, 2nd edition, FHWA-NHI-01-020 (2001), read in the source except
where said: inlet equations appendix A, outlet control p. 34-48, 70-72. Its constants: tables/inlets.csv.

All heads are energy heads above the *inlet* invert, per barrel; the velocity of approach is neglected, which is
the usual, safe choice (HDS-5 p. 35-36, 46).

Departures from the printed procedure, all so that headwater never falls when flow or tailwater rises:
the head is never below critical energy (the printed slope term makes it negative at very low flow); outlet
control is always computed by a profile and never left out on steep barrels; its head is never below
critical energy plus entrance loss; the zone between the two inlet equations, which HDS-5 draws by hand as a tangent,
is a monotone cubic.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics.profile import depth_upstream
from overbank.hydraulics.screens import (
    BOTTOM_UP,
    FLOATING_RAFT,
    SHUT,
    UNIFORM,
    screen_head,
)
from overbank.hydraulics.sections import Section, area, clear_height, silt_height, wetted_perimeter, with_silt
from overbank.hydraulics.uniform import (
    critical_depth,
    critical_energy,
    velocity_head,
)

KU = sqrt(1.0 / 0.3048)
"""Turns Q / (A D^0.5) from SI into the US scale of the published constants, 1.811."""

UNSUBMERGED_TO = 3.5
SUBMERGED_FROM = 4.0
"""Discharge intensities between which neither inlet equation holds (from memory, unverified; HDS-5 says "about")."""

SLOPE_TERM_FROM = 0.5
"""Intensity from which the slope term counts in full; below it shrinks to nothing at no flow (own proposal)."""

LIMITS = {"inlet head over rise": (0.5, 3.0)}
"""Range of the fit to the same inlet data in TxDOT, Hydraulic Design Manual, chapter 8 section 3 (read in the source)."""


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
def _opening_head(
    s: Section, flow: float, slope: float, row: InletRow, opening_area: float, opening_height: float
) -> float:
    """Inlet-control head of an opening that is the lower part of section s."""
    d = opening_height
    q = discharge_intensity(flow, opening_area, d)
    floor = critical_energy(s, flow)
    if q <= UNSUBMERGED_TO:
        return max(d * unsubmerged_ratio(row, q, floor / d, slope), floor)
    per_q = flow / q
    at = UNSUBMERGED_TO
    below = unsubmerged_ratio(row, at, critical_energy(s, per_q * at) / d, slope)
    below = max(below, critical_energy(s, per_q * at) / d)
    if q >= SUBMERGED_FROM:
        ratio = max(submerged_ratio(row, q, slope), below)
    else:
        step = 1e-3
        before = unsubmerged_ratio(row, at - step, critical_energy(s, per_q * (at - step)) / d, slope)
        above = max(submerged_ratio(row, SUBMERGED_FROM, slope), below)
        gap = SUBMERGED_FROM - UNSUBMERGED_TO
        chord = (above - below) / gap
        start = min(max((below - before) / step, 0.0), 3.0 * chord)
        end = min(2.0 * row.c * SUBMERGED_FROM, 3.0 * chord)
        t = (q - at) / gap
        ratio = (
            below * (1.0 + 2.0 * t) * (1.0 - t) ** 2
            + gap * start * t * (1.0 - t) ** 2
            + above * t * t * (3.0 - 2.0 * t)
            + gap * end * t * t * (t - 1.0)
        )
    return max(d * ratio, floor)


@kernel
def inlet_head(s: Section, flow: float, slope: float, row: InletRow) -> float:
    """Inlet-control head above the inlet invert, clean barrel [m].

    s : barrel section; flow : per barrel [m3/s]; slope : of the barrel [-]; row : inlet constants.

    Range: unsubmerged up to q about 3.5, submerged from about 4.0, a monotone cubic (Hermite with the end slopes of both
    curves, held to three times the chord) between; accuracy of the procedure within 10 % of the head (HDS-5 p. 23).
    """
    d = clear_height(s)
    return _opening_head(s, flow, slope, row, area(s, d), d)


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

    `head_factor` multiplies the head over the bed (model error, median 1). The geometry is our own reading; the pattern matters as much as the share. A raft is never taken to lower the head.
    """
    if blockage <= 0.0:
        return head_factor * inlet_head(s, flow, slope, row)
    if blockage >= SHUT:
        return inf
    if pattern == UNIFORM:
        return head_factor * inlet_head(s, flow / (1.0 - blockage), slope, row)
    if pattern == FLOATING_RAFT:
        height = silt_height(s, 1.0 - blockage)
        lowered = _opening_head(s, flow, slope, row, area(s, height), height)
        return head_factor * max(lowered, inlet_head(s, flow, slope, row))
    silt = silt_height(s, blockage)
    return silt + head_factor * inlet_head(with_silt(s, silt), flow, slope, row)


@kernel
def outlet_depth(s: Section, flow: float, tailwater_depth: float, exit_loss: float) -> float:
    """Depth just inside the outlet [m]: never below critical depth.

    With exit_loss = 1 (still water behind) the depth is the tailwater's. With less, part of the velocity head is won back:
    y + (1 - Ko) V^2/2g = tailwater depth.
    """
    critical = critical_depth(s, flow)
    if exit_loss >= 1.0 or tailwater_depth <= critical:
        return max(tailwater_depth, critical)
    won = 1.0 - exit_loss
    if critical + won * velocity_head(s, flow, critical) >= tailwater_depth:
        return critical
    low, high = critical, tailwater_depth
    for _ in range(60):
        y = 0.5 * (low + high)
        if y + won * velocity_head(s, flow, y) > tailwater_depth:
            high = y
        else:
            low = y
        if high - low < 1e-10 * high:
            break
    return 0.5 * (low + high)


@kernel
def outlet_head(
    s: Section,
    flow: float,
    slope: float,
    length: float,
    tailwater_depth: float,
    entrance_loss: float,
    exit_loss: float,
) -> float:
    """Outlet-control head above the inlet invert by the profile through the barrel [m].

    H = y + (1 + Ke) V^2/2g at the inlet end, never below critical energy plus Ke times critical velocity head.

    flow : per barrel [m3/s]; slope, length : of the barrel; tailwater_depth : above the outlet bed [m];
    entrance_loss, exit_loss : Ke and Ko [-] (HDS-5 table 12; Ko = 1 for still water).
    """
    critical = critical_depth(s, flow)
    floor = critical + (1.0 + entrance_loss) * velocity_head(s, flow, critical)
    start = outlet_depth(s, flow, tailwater_depth, exit_loss)
    y = depth_upstream(s, flow, slope, length, start)
    return max(y + (1.0 + entrance_loss) * velocity_head(s, flow, max(y, critical)), floor)


@kernel
def full_barrel_head(
    s: Section,
    flow: float,
    slope: float,
    length: float,
    tailwater_depth: float,
    entrance_loss: float,
    exit_loss: float,
) -> float:
    """HDS-5's shortcut for outlet control, a full barrel from h_o = max(TW, (yc + D)/2) [m]; a cross-check only.

    H = h_o + (Ke + 2 g n^2 L / R^(4/3) + Ko) V^2/2g - S L (p. 34-38). Off by -7 to +60 % below about 1.2 D.
    """
    d = clear_height(s)
    radius = area(s, d) / wetted_perimeter(s, d)
    friction = 2.0 * GRAVITY * s.manning_n**2 * length / radius ** (4.0 / 3.0)
    start = max(tailwater_depth, 0.5 * (min(critical_depth(s, flow), d) + d))
    return start + (entrance_loss + friction + exit_loss) * velocity_head(s, flow, d) - slope * length


@kernel
def barrel_heads(
    s: Section,
    flow: float,
    slope: float,
    length: float,
    tailwater_depth: float,
    row: InletRow,
    head_factor: float,
    entrance_loss: float,
    exit_loss: float,
    blockage: float,
    pattern: float,
) -> tuple[float, float]:
    """Inlet-control and outlet-control head of one barrel, blocked or clean [m above the inlet invert].

    The headwater is the higher of the two. At the inlet, debris in outlet control is a screen of the barrel's own area (`screens.opening_flow`); silt fills
    the barrel along its whole length.
    """
    inlet = blocked_inlet_head(s, flow, slope, row, head_factor, blockage, pattern)
    if blockage <= 0.0:
        return inlet, outlet_head(s, flow, slope, length, tailwater_depth, entrance_loss, exit_loss)
    if blockage >= SHUT:
        return inf, inf
    if pattern == BOTTOM_UP:
        silt = silt_height(s, blockage)
        raised = with_silt(s, silt)
        depth = tailwater_depth - silt
        return inlet, silt + outlet_head(raised, flow, slope, length, depth, entrance_loss, exit_loss)
    behind = outlet_head(s, flow, slope, length, tailwater_depth, entrance_loss, exit_loss)
    d = clear_height(s)
    width = area(s, d) / d
    return inlet, screen_head(flow, behind, width, d, 1.0, 0.0, inf, blockage, pattern, 0.0)

