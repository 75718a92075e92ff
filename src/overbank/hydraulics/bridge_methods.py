"""Whole bridge openings by the published hand methods, to compare with: contraction, arches, drowned soffits.

None of them is used in the row of structures. See afflux.py for piers alone.
"""

from __future__ import annotations

from math import sqrt

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots


@kernel
def _contraction_rise(
    rise: float,
    velocity_head: float,
    loss: float,
    alpha_opening: float,
    alpha_upstream: float,
    areas: tuple[float, float, float, float],
) -> float:
    """Right-hand side of `contraction_backwater` for a trial rise."""
    opening, below, width, depth = areas
    upstream = width * (depth + rise)
    change = (opening / below) ** 2 - (opening / upstream) ** 2
    return (loss * alpha_opening + alpha_upstream * change) * velocity_head


@kernel
def contraction_backwater(
    loss: float,
    flow: float,
    opening_area: float,
    downstream_area: float,
    upstream_width: float,
    normal_depth: float,
    alpha_opening: float,
    alpha_upstream: float,
) -> float:
    """Backwater above NORMAL level of a bridge that narrows the stream, h1* [m].

    h1* = K* a2 Vn^2/2g + a1 [(An2/A4)^2 - (An2/A1)^2] Vn^2/2g,  Vn = Q/An2,  A1 = B1 (y + h1*)

    Parameters
    ----------
    loss : K* = Kb + what piers, eccentricity and skew add; given by the user, for the charts could not be read [-]
    flow : Q [m3/s]
    opening_area : An2, gross (piers not taken off), below NORMAL level; Vn is a fictitious velocity [m2]
    downstream_area : A4, of the stream below, at normal level [m2]
    upstream_width, normal_depth : B1, y: of section 1 as a rectangle [m]
    alpha_opening, alpha_upstream : a2, a1, energy coefficients [-]

    Range: An2 below A4, and A1 at normal level not below A4, so that the root is positive; subcritical. In 31
    floods on wide wooded plains the method gave on average 47 % less than measured (USGS study, read in the abstract).
    Source: J. N. Bradley, "Hydraulics of Bridge Waterways", FHWA HDS-1 (1978). Expression from memory, unverified.
    """
    velocity_head = (flow / opening_area) ** 2 / (2.0 * GRAVITY)
    areas = (opening_area, downstream_area, upstream_width, normal_depth)
    low = _contraction_rise(0.0, velocity_head, loss, alpha_opening, alpha_upstream, areas)
    if low <= 0.0:
        return 0.0
    high = (loss * alpha_opening + alpha_upstream * (opening_area / downstream_area) ** 2) * velocity_head
    f_high = high - _contraction_rise(high, velocity_head, loss, alpha_opening, alpha_upstream, areas)
    bracket = roots.start(0.0, -low, high, f_high)
    while roots.is_open(bracket, 1e-13 * normal_depth):
        rise = roots.propose(bracket)
        value = _contraction_rise(rise, velocity_head, loss, alpha_opening, alpha_upstream, areas)
        bracket = roots.narrow(bracket, rise, rise - value)
    return roots.best(bracket)


@kernel
def borda_loss(opening_ratio: float) -> float:
    """A physical stand-in for the base coefficient Kb, (1/Cc - 1)^2 + (1 - M)^2, Cc = 0.62 + 0.38 M^3 [-].

    opening_ratio : M = An2/A4 [-]
    Contraction and sudden expansion after Borda and Weisbach; lower than the charts of HDS-1 are remembered to
    be. Own proposal.
    """
    contracted = 0.62 + 0.38 * opening_ratio**3
    return (1.0 / contracted - 1.0) ** 2 + (1.0 - opening_ratio) ** 2


@kernel
def biery_delleur(froude: float, opening_ratio: float) -> float:
    """Afflux of a semicircular arch over normal depth, 0.47 (Fr/M)^2.26 [-].

    froude : Fr, of the undisturbed flow as the authors define it: other definitions give significant error
    (2008 study of arch and deck models, read in the abstract) [-]; opening_ratio : M, of the opening at that level [-]
    Source: P. F. Biery and J. W. Delleur (1962). From memory, unverified.
    """
    return 0.47 * (froude / opening_ratio) ** 2.26


@kernel
def sluice_flow(coefficient: float, width: float, soffit_height: float, energy_depth: float) -> float:
    """Flow under a soffit that is wet upstream only, Cd b Z sqrt(2g (E - Z/2)) [m3/s].

    coefficient : Cd, 0.5 suggested; 0.27 to 0.5 rising with y/Z from 1.1 to 1.3 (from memory) [-]
    width : b, net of piers [m]; soffit_height : Z, above the mean bed [m]
    energy_depth : E, depth upstream plus its velocity head; the Texas manual leaves the velocity head out [m]
    0 when E is below half of Z. Source: TxDOT, Hydraulic Design Manual, chapter 9, pressure flow: coefficient
    and quantities read in the source, the formula's layout from memory.
    """
    head = energy_depth - 0.5 * soffit_height
    return coefficient * width * soffit_height * sqrt(2.0 * GRAVITY * head) if head > 0.0 else 0.0


@kernel
def orifice_flow(coefficient: float, width: float, soffit_height: float, head: float) -> float:
    """Flow under a soffit that is drowned on both sides, C b Z sqrt(2g H) [m3/s].

    coefficient : C, 0.8 typical, 0.7 to 0.9 [-]; width, soffit_height : b, net of piers, and Z [m]
    head : H, energy level upstream less water level downstream [m]
    Source: TxDOT, Hydraulic Design Manual, chapter 9, pressure flow: coefficient and quantities read in the source.
    """
    return coefficient * width * soffit_height * sqrt(2.0 * GRAVITY * head) if head > 0.0 else 0.0
