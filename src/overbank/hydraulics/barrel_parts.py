"""A barrel in parts: its water carried upstream from the outlet, part by part, to the end of the first part.

At the joint above a part, with y, V and y', V' in the end of the part above and in the head of the part itself,

    E  = y' + V'^2/2g + K V'^2/2g                                  over the bed of the part
    y + V^2/2g = E - drop + (V - V')^2/2g, the last where V > V'    over the bed of the part above

K: what a bend, a narrowing, a manhole or the way out of a chamber loses (`joint_losses`). The last term is Borda's loss
of a stream that is slowed down: by a wider part, or by a fall of the bed. In a chamber the water stands, V' = 0 there.

How each part keeps the level from falling: E is no less than its value for critical depth in the part, for by itself
y' + (1 + K) V'^2/2g falls at first as y' rises from there; y is no less than critical depth. From a manhole or a
chamber the water enters the part as into an inlet, so E is no less than what HEC-22 asks for there, see `entered`.

Sources: Borda and the energy balance: closed forms. FHWA HEC-22, 4th edition (2024), p. 145-157, and HDS-5, 2nd edition
(2001), p. 146-147: no loss of a bend counts in inlet control, and critical depth at a break of the slope may control;
both read in the source.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overbank._jit import kernel, take
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.columns import size
from overbank.hydraulics.profile import depth_above
from overbank.hydraulics.sections import Section, area, clear_height, silt_height, with_silt
from overbank.hydraulics.uniform import critical_depth, velocity_head

PLAIN, MANHOLE, CHAMBER = 0, 1, 2
"""What joins a part to the one above."""

DROWNED_INLET, FREE_INLET, FREE_POWER = 1.0, 1.6, 0.67
"""Energy level over the invert of a pipe that leaves a manhole, over its height: 1.0 DI^2 drowned, 1.6 DI^0.67 free,
with DI = Q / (A sqrt(g D)). HEC-22, 4th edition, p. 147-157, read in the source; tests to DI 1.6 and 0.5."""

Pieces = NDArray[np.float64]
"""The numbers of all parts below the first, one after the other."""


class Part(NamedTuple):
    """A part of a barrel below the first.

    section, length [m], slope [-]
    drop : of the bed at its upper end, from the end of the part above down to its own head [m]
    loss : K at its upper end, on the velocity head in it [-]
    joint : PLAIN, MANHOLE or CHAMBER, at its upper end
    """

    section: Section
    length: float
    slope: float
    drop: float
    loss: float
    joint: float


SECTION, PART = size(Section), size(Part)
REST = PART - SECTION


class Filled(NamedTuple):
    """Silt in a barrel: the share of its area that it fills, and its roughness [s/m^(1/3)]."""

    share: float
    manning_n: float


NO_SILT = Filled(0.0, 0.0)


def laid(numbers: Sequence[float]) -> Pieces:
    """Numbers of parts as the formulas take them."""
    return np.array(numbers, dtype=np.float64)


NO_PART = Part(Section(*[0.0] * SECTION), 0.0, 0.0, 0.0, 0.0, 0.0)


@kernel
def count(pieces: Pieces | None) -> int:
    """How many parts there are below the first."""
    if pieces is None:
        return 0
    return pieces.size // PART


@kernel
def part_of(pieces: Pieces | None, k: int, silt: Filled) -> Part:
    """Part k, counted from 0 going downstream, with the silt in it; its drop is that of the bare bed."""
    if pieces is None:
        return NO_PART
    column = pieces[k * PART : (k + 1) * PART]
    section = Section(*take(column, 0, SECTION))
    if silt.share > 0.0:
        section = with_silt(section, silt_height(section, silt.share), silt.manning_n)
    length, slope, drop, loss, joint = take(column, SECTION, REST)
    return Part(section, length, slope, drop, loss, joint)


@kernel
def fall(pieces: Pieces | None) -> float:
    """From the bed at the end of the first part down to that at the outlet [m]."""
    total = 0.0
    if pieces is None:
        return total
    for k in range(count(pieces)):
        length, slope, drop, _, _ = take(pieces, k * PART + SECTION, REST)
        total += drop + slope * length
    return total


@kernel
def entered(part: Part, flow: float, y: float, critical: float) -> float:
    """Energy level before a part for the depth in its head, over its bed [m]; it never falls as y or the flow rises."""
    s, spent = part.section, 1.0 + part.loss
    energy = max(y + spent * velocity_head(s, flow, y), critical + spent * velocity_head(s, flow, critical))
    if part.joint == PLAIN:
        return energy
    height = clear_height(s)
    intensity = flow / (area(s, height) * sqrt(GRAVITY * height))
    inlet = max(DROWNED_INLET * intensity * intensity, FREE_INLET * intensity**FREE_POWER)
    return max(energy, height * inlet)


@kernel
def _kept(s: Section, flow: float, y: float, behind: float) -> float:
    """Energy that a depth leaves after the loss of a stream slowed down to the velocity behind [m]."""
    slowed = max(flow / area(s, y) - behind, 0.0)
    return y + velocity_head(s, flow, y) - slowed * slowed / (2.0 * GRAVITY)


@kernel
def depth_before(s: Section, flow: float, critical: float, part: Part, y: float, below: float) -> float:
    """Depth in the end of section s, above a part with the depth y in its head; never below critical depth [m].

    below : critical depth in the part [m]
    """
    if y == inf:
        return inf
    fallen = part.drop + s.silt - part.section.silt
    if flow <= 0.0:
        return max(y - fallen, 0.0)
    energy = entered(part, flow, y, below) - fallen
    if part.joint == CHAMBER:
        return max(energy, critical)
    behind = flow / area(part.section, y)
    low = _kept(s, flow, critical, behind) - energy
    if low >= 0.0:
        return critical
    high = _kept(s, flow, energy, behind) - energy
    if high <= 0.0:
        return energy
    bracket = roots.start(critical, low, energy, high)
    while roots.is_open(bracket, 1e-10 * energy):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _kept(s, flow, x, behind) - energy)
    return roots.best(bracket)


@kernel
def carried_up(
    s: Section, flow: float, critical: float, pieces: Pieces | None, silt: Filled, outlet: float
) -> tuple[float, Pieces]:
    """From the depth just inside the outlet to that in the end of the first part, section s [m].

    The second answer is the depth in the head and in the end of every part below it.
    """
    y, parts = outlet, count(pieces)
    depths = np.empty((parts, 2))
    if pieces is None:
        return y, depths
    for back in range(parts, 0, -1):
        part = part_of(pieces, back - 1, silt)
        below = critical_depth(part.section, flow)
        depths[back - 1, 1] = y
        y = depth_above(part.section, flow, below, part.slope, part.length, y)
        depths[back - 1, 0] = y
        if back > 1:
            above = part_of(pieces, back - 2, silt).section
            y = depth_before(above, flow, critical_depth(above, flow), part, y, below)
        else:
            y = depth_before(s, flow, critical, part, y, below)
    return y, depths


@kernel
def is_like_one(s: Section, slope: float, pieces: Pieces | None, silt: Filled) -> bool:
    """Whether all parts, if there are any, are one barrel of section s: alike, in line, without any loss between."""
    if pieces is None:
        return True
    for k in range(count(pieces)):
        part = part_of(pieces, k, silt)
        o = part.section
        shape = o.shape == s.shape and o.width == s.width and o.rise == s.rise
        shape = shape and o.wall_height == s.wall_height and o.side_slope == s.side_slope
        rough = o.manning_n == s.manning_n and o.bed_manning_n == s.bed_manning_n
        joined = part.joint == PLAIN and part.loss == 0.0 and part.drop == 0.0 and part.slope == slope
        if not (shape and rough and joined):
            return False
    return True
