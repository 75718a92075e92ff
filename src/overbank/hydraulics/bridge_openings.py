"""Groups of openings of a bridge as debris leaves them, and the bridge that they make.

Skew is projected once: the caller says by `width_factor` what is left of each span. Debris closes a share of the
openings by one of three patterns, as at a culvert's inlet.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overbank._jit import kernel, take
from overbank.hydraulics.columns import size
from overbank.hydraulics.screens import BOTTOM_UP, FLOATING_RAFT, SHUT
from overbank.hydraulics.sections import Section, area, clear_height, silt_height, with_silt
from overbank.hydraulics.surveyed_stages import Stages

JET_CONTRACTION = 0.61
"""Share of the openings that a jet free below their soffit fills (usual for gates; read as given in exercises)."""


class Openings(NamedTuple):
    """`number` like openings, 0 for none: section of one, width factor for skew and piers, level of its bed [m]."""

    section: Section
    number: float
    width_factor: float
    bed: float


class Clear(NamedTuple):
    """What debris leaves open of a group of openings.

    section : of one opening, above what lies on its bed
    many : how many, width factor and closed share included; 0 when shut, or for no openings, which lie endlessly high
    lip, soffit : levels between which it is open [m]; bed, roof : the same without debris [m]
    middle : level that the sluice formula counts the head from [m]
    jet : surface of the jet that fills JET_CONTRACTION of them, under a raft of the clean ones [m]
    full : area up to the soffit [m2]
    """

    section: Section
    many: float
    lip: float
    soffit: float
    bed: float
    roof: float
    middle: float
    jet: float
    full: float


SECTION, CLEAR = size(Section), size(Clear)
REST = CLEAR - SECTION

Groups = NDArray[np.float64]
"""Any number of groups of openings, a row each: the numbers of a `Clear`."""


@kernel
def put_group(groups: Groups, k: int, c: Clear) -> None:
    """A group of openings into its row."""
    for i in range(SECTION):
        groups[k, i] = c.section[i]
    rest = (c.many, c.lip, c.soffit, c.bed, c.roof, c.middle, c.jet, c.full)
    for i in range(REST):
        groups[k, SECTION + i] = rest[i]


@kernel
def group_of(groups: Groups, k: int) -> Clear:
    """The group of openings of a row."""
    return Clear(Section(*take(groups[k], 0, SECTION)), *take(groups[k], SECTION, REST))


def side_by_side(*clear: Clear) -> Groups:
    """Groups of openings in one crossing."""
    return np.array([[*each.section, *each[1:]] for each in clear], dtype=np.float64)


class Bridge(NamedTuple):
    """Groups of openings in one crossing, each as debris leaves it (`cleared`), and what they share.

    approach : open section of the channel on both sides; approach_bed : its bed level there [m]
    contraction, expansion : loss coefficients on the difference of velocity heads [-]
    sluice, orifice : discharge coefficients under pressure [-]
    afflux_factor : multiplies every loss at the bridge, and so to first order the afflux (model error, median 1) [-]
    survey : stages of the surveyed section that stands in place of `approach`, None where that is a simple one
    """

    groups: Groups
    approach: Section
    approach_bed: float
    contraction: float
    expansion: float
    sluice: float
    orifice: float
    afflux_factor: float
    survey: Stages | None = None


@kernel
def cleared(o: Openings, blockage: float, pattern: float) -> Clear:
    """A group of openings with a share of it closed by debris.

    Under a raft the middle is that of a box with as much left open, and jet and roof are those of the clean openings:
    by the underside of the raft itself the first centimetres of it, up in the crown of an arch, would lower the water.
    """
    s, left = o.section, 1.0 - blockage
    if o.number <= 0.0:
        return Clear(s, 0.0, inf, inf, inf, inf, inf, inf, 0.0)
    many = o.number * o.width_factor if blockage < SHUT else 0.0
    height = clear_height(s)
    roof, middle = o.bed + height, o.bed + 0.5 * height
    lip, soffit, silt, jet = o.bed, roof, 0.0, silt_height(s, JET_CONTRACTION)
    if pattern == FLOATING_RAFT:
        soffit, middle = o.bed + silt_height(s, left), o.bed + 0.5 * left * height
    elif pattern == BOTTOM_UP:
        silt = silt_height(s, blockage)
        lip, jet = o.bed + silt, silt_height(s, 1.0 - left * (1.0 - JET_CONTRACTION))
    else:
        many *= left
    open_section = with_silt(s, silt)
    full = many * area(open_section, soffit - lip)
    return Clear(open_section, many, lip, soffit, o.bed, roof, middle, o.bed + jet, full)


@kernel
def rafted(o: Openings, share: float, depth: float) -> tuple[Openings, float]:
    """What a raft that floats before a share of the width of openings leaves of that share, and how much it closes.

    The raft hangs a depth below the surface, so it takes its width times the lesser of that depth and of the water's:
    of the area, as much as a share of the width whose bed lies higher by that depth. So the openings under a raft are a
    group of their own with silt of that depth, and the rest another (own derivation; exact for the area of upright
    walls, one energy upstream for both). That it hangs from the surface and grows downwards: T. H. Diehl (1997),
    FHWA-RD-97-028, archive pages read in the source.
    """
    height = clear_height(o.section)
    closed = area(o.section, min(depth, height)) / area(o.section, height) if o.number > 0.0 else 0.0
    return Openings(o.section, o.number * share, o.width_factor, o.bed), closed


@kernel
def clear_area(c: Clear, level: float) -> float:
    """Area of a group of openings below a water level [m2]."""
    if level >= c.soffit:
        return c.full
    return c.many * area(c.section, level - c.lip) if level > c.lip else 0.0


@kernel
def bridge_area(b: Bridge, level: float) -> float:
    """Clear area of all openings below a water level [m2]."""
    total = 0.0
    for k in range(b.groups.shape[0]):
        total += clear_area(group_of(b.groups, k), level)
    return total


@kernel
def is_shut(b: Bridge) -> bool:
    """True when there is no way through any opening."""
    many = 0.0
    for k in range(b.groups.shape[0]):
        many += group_of(b.groups, k).many
    return many <= 0.0
