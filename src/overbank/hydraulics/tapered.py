"""A tapered (flumed) culvert entrance: a wide face that narrows to the throat, where the barrel begins.

Face and throat are separate controls. Each has published constants of its own, takes its own dimensions and counts
its head from its own invert; the higher level governs. Usually the face governs at low flow, the throat in between,
outlet control at high flow. Outlet control takes the low entrance loss of a tapered inlet, 0.2, no better than that
of a bevelled edge.

Source: FHWA, HDS-5, 2nd edition, FHWA-NHI-01-020 (2001), p. 79 and 85-87 (separate controls, entrance loss), p. 91-94
(range), read in the source; constants: tables/inlets.csv, read in one copy only. That the discharge intensity at the
face takes the face's width and height is from memory, unverified.

Debris comes to rest at the face, as a raft or spread over it, and leaves the throat clean; silt lies in face and
barrel alike, and closes the same share of both (own proposal, not published).
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from overbank._jit import kernel
from overbank.hydraulics.culverts import (
    STILL,
    Ends,
    InletRow,
    barrel_heads,
    before_inlet,
    blocked_inlet_head,
    is_inlet_drowned,
)
from overbank.hydraulics.outlet_control import Lay
from overbank.hydraulics.screens import BOTTOM_UP, SHUT, screen_head
from overbank.hydraulics.sections import CIRCLE, ELLIPSE, RECTANGLE, SILT_MANNING_N, Section, area, clear_height

LIMITS = {
    "height of the face over the barrel's": (1.0, 1.1),
    "length of the taper over its widening on one side": (4.0, inf),
    "span of the barrel over its rise": (0.0, 3.0),
    "fall from the face of a side taper to the throat [m]": (0.0, 0.3),
    "number of barrels": (1.0, 2.0),
}
"""Range of the tests: HDS-5, 2nd edition (2001), p. 91-94, read in the source. Tapers slower than 6 to 1 are allowed,
and then perform better than computed."""


class Face(NamedTuple):
    """The face of a tapered entrance, one to each barrel; width 0 for none.

    row : its inlet constants
    width, height : clear [m]; before a round barrel the face is an ellipse, before others a rectangle
    invert : level of its bed [m]
    """

    row: InletRow
    width: float
    height: float
    invert: float


NO_FACE = Face(InletRow(0.0, 0.0, 0.0, 0.0, 0.0, 0.0), 0.0, 0.0, 0.0)


@kernel
def face_section(face: Face, barrel: Section) -> Section:
    """The face as a closed section."""
    shape = ELLIPSE if barrel.shape == CIRCLE else RECTANGLE
    return Section(float(shape), face.width, 0.0, face.height, 0.0, 0.0, barrel.manning_n, barrel.bed_manning_n)


@kernel
def face_level(
    face: Face, barrel: Section, flow: float, slope: float, head_factor: float, blockage: float, pattern: float
) -> float:
    """Headwater by face control [m]; flow per barrel, slope of the barrel; `inf` when the face is shut."""
    s = face_section(face, barrel)
    return face.invert + blocked_inlet_head(s, flow, slope, face.row, head_factor, blockage, pattern)


@kernel
def tapered_levels(
    face: Face,
    s: Section,
    flow: float,
    lay: Lay,
    upstream_invert: float,
    row: InletRow,
    head_factor: float,
    blockage: float,
    pattern: float,
    number: float = 1.0,
    ends: Ends = STILL,
    silt_n: float = SILT_MANNING_N,
) -> tuple[float, float, float]:
    """Headwater by face, by throat and by outlet control [m].

    Parameters
    ----------
    face : dimensions and constants of the face; s, row : section of the barrel, constants of the throat
    flow : of one barrel [m3/s]; lay, upstream_invert : of the barrel, its invert at the throat
    head_factor : multiplies the heads of face and throat (model error, median 1)
    blockage, pattern : debris at the face, or silt of roughness silt_n
    number, ends : of the barrels, and the water at their ends, its bed as a level

    The headwater is the highest of the three. None of them falls when flow, tailwater or blockage rises.
    """
    at_face = face_level(face, s, flow, lay.slope, head_factor, blockage, pattern)
    if blockage >= SHUT:
        return inf, inf, inf
    inside = blockage if pattern == BOTTOM_UP else 0.0
    above = Ends(ends.head_below, ends.approach, ends.approach_bed - upstream_invert)
    throat, outlet = barrel_heads(s, flow, lay, row, head_factor, inside, pattern, number, above, silt_n)
    at_face = before_inlet(ends, flow * number, at_face)
    outlet_level = upstream_invert + outlet
    if blockage > 0.0 and pattern != BOTTOM_UP:
        opening = face_section(face, s)
        height = clear_height(opening)
        width = area(opening, height) / height
        behind = max(outlet_level - face.invert, 0.0)
        head = screen_head(flow, behind, width, height, 1.0, 0.0, inf, blockage, pattern, 0.0)
        outlet_level = max(face.invert + head, outlet_level)
    return at_face, upstream_invert + throat, outlet_level


@kernel
def is_face_drowned(face: Face, barrel: Section, flow: float, blockage: float, pattern: float) -> bool:
    """True when the face, blocked or clean, is past the range of the unsubmerged equation."""
    return is_inlet_drowned(face_section(face, barrel), flow, blockage, pattern)
