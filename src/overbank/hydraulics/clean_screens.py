"""Head loss of a clean bar screen: nine published forms that rival each other.

All give the loss coefficient zeta of h = zeta V^2 / 2g, with V the approach velocity on the gross area of the
screen (upright projection). They differ by a factor of four (20 mm bars, 140 mm gaps, 60 deg: zeta 0.11 to
0.44), which is a matter of millimetres; blockage is a matter of decimetres. They serve to judge the spread.

Forms that contain sin(inclination) take the velocity on the upright projection of the screen. Never use the
larger sloping area as well: that would count the slope twice.
"""

from __future__ import annotations

from math import inf, radians, sin, sqrt, tan

from overbank._jit import kernel
from overbank.constants import GRAVITY

LIMITS: dict[str, tuple[str, float, float]] = {
    "kirschmer": ("bar / gap", 0.1, 1.0),
    "meusburger": ("solid share", 0.2, 0.6),
    "idelchik_bars": ("clear share", 0.5, 1.0),
    "sharp_plate": ("clear share", 0.2, 0.6),
    "usbr": ("clear share", 0.4, 1.0),
    "levin": ("solid share", 0.1, 0.4),
    "clark": ("solid share", 0.0, 0.35),
    "raynal": ("solid share", 0.35, 0.6),
    "wastewater_form": ("clear share", 0.4, 1.0),
}
"""Range of validity of each form: the quantity that is limited, its least and its greatest value."""


@kernel
def head_loss(loss_coefficient: float, velocity: float) -> float:
    """h = zeta V^2 / 2g [m], from the loss coefficient [-] and the approach velocity [m/s]."""
    return loss_coefficient * velocity * velocity / (2.0 * GRAVITY)


@kernel
def kirschmer(shape_factor: float, bar: float, gap: float, inclination_deg: float) -> float:
    """Loss coefficient of a clean bar screen, zeta = beta (s/b)^(4/3) sin(alpha), after Kirschmer.

    Parameters
    ----------
    shape_factor : beta; rectangle 2.42, round upstream face 1.83, circle 1.79 (tables/bar_shapes.csv) [-]
    bar : s, thickness of a bar across the flow [m]
    gap : b, clear gap between bars [m]
    inclination_deg : alpha, of the screen's plane above the horizontal; 90 is upright [deg]

    Range: flow square on to the screen, clean, turbulent; s/b of order 0.1 to 1, bars about 5 times as deep
    as thick. `inf` when there is no gap.
    Source: O. Kirschmer (1926). Form read in two public formula pages; factors read second hand (quoted from
    IS 11388:1995), except those marked otherwise in the table.
    """
    if gap <= 0.0:
        return inf
    zeta: float = shape_factor * (bar / gap) ** (4.0 / 3.0) * sin(radians(inclination_deg))
    return zeta


@kernel
def meusburger(shape_factor: float, solid: float, skew_deg: float, inclination_deg: float) -> float:
    """Loss coefficient of a river intake rack in skewed flow, after Meusburger.

    zeta = k (p / (1 - p))^1.5 (1 - theta/90) p^(-1.4 tan theta) sin(alpha)

    Parameters
    ----------
    shape_factor : k, as Kirschmer's beta [-]
    solid : p, share of the gross area taken by bars and cross members [-]
    skew_deg : theta, in plan between the flow and the screen's normal; 0 is square on [deg]
    inclination_deg : alpha, above the horizontal [deg]

    Range: p about 0.2 to 0.6, theta up to 45 degrees. `inf` when nothing is clear.
    Source: H. Meusburger (2002). From memory, unverified.
    """
    if solid >= 1.0:
        return inf
    if solid <= 0.0:
        return 0.0
    theta = radians(skew_deg)
    skewed = (1.0 - skew_deg / 90.0) * solid ** (-1.4 * tan(theta))
    zeta: float = shape_factor * (solid / (1.0 - solid)) ** 1.5 * skewed * sin(radians(inclination_deg))
    return zeta


@kernel
def idelchik_bars(shape_factor: float, bar: float, gap: float, inclination_deg: float) -> float:
    """Loss coefficient of a grating of bars, zeta = beta1 ((s + b)/b - 1)^(4/3) sin(alpha), after Idelchik.

    Parameters
    ----------
    shape_factor : beta1; rectangle 2.34, one face round 1.77, circle 1.73, streamlined down to 0.71 [-]
    bar, gap : thickness s and clear gap b [m]
    inclination_deg : alpha, above the horizontal [deg]

    Range: bars about 5 times as deep as thick, b/(s + b) above 0.5. Algebraically the same as Kirschmer's,
    with factors of its own.
    Source: I. E. Idelchik, Handbook of Hydraulic Resistance. From memory, unverified.
    """
    return kirschmer(shape_factor, bar, gap, inclination_deg)


@kernel
def sharp_plate(clear: float) -> float:
    """Loss coefficient of a thin sharp-edged plate with openings.

    zeta = (0.707 sqrt(1 - f) + 1 - f)^2 / f^2

    Parameters
    ----------
    clear : f, net over gross area [-]

    Range: any f; within 9 % of Blevins' (1984) table for f 0.2 to 0.6, but 12 to 21 % low at 0.7 to 0.8.
    `inf` when nothing is clear.
    Source: I. E. Idelchik, Handbook of Hydraulic Resistance (older edition). Form from memory, unverified;
    checked against Blevins' table as coded in the library fluids.
    """
    if clear <= 0.0:
        return inf
    solid = 1.0 - clear
    loss = (0.707 * sqrt(solid) + solid) / clear
    return loss * loss


@kernel
def usbr_net(clear: float) -> float:
    """Loss coefficient on the velocity through the gaps, K = 1.45 - 0.45 R - R^2.

    Parameters
    ----------
    clear : R, net over gross area [-]

    Source: USBR, Design of Small Dams; Creager and Justin. Read second hand (a public file quoting AHEC
    8.5.3.4(b)).
    """
    return 1.45 - 0.45 * clear - clear * clear


@kernel
def usbr(clear: float) -> float:
    """Loss coefficient of an intake rack, zeta = (1.45 - 0.45 R - R^2) / R^2 on the approach velocity.

    Parameters
    ----------
    clear : R, net over gross area [-]

    Range: an average for intake racks, whatever the bars. 2 to 3 % below Blevins' square-edged grill for R
    0.2 to 0.9, but a third below his thin screen at R = 0.2: do not use below R = 0.4. `inf` when nothing is
    clear.
    Source: as `usbr_net`.
    """
    if clear <= 0.0:
        return inf
    return usbr_net(clear) / (clear * clear)


@kernel
def levin(shape_factor: float, solid: float, bar_depth: float, gap: float, inclination_deg: float) -> float:
    """Loss coefficient of a rack with deep bars, after Berezinski and Levin.

    zeta = k p^1.6 (8 + 2.3 d/b + 2.4 b/d) sin(alpha)

    Parameters
    ----------
    shape_factor : k; rectangle 0.51, circle 0.35, round ends 0.32 [-]
    solid : p, solid share of the gross area [-]
    bar_depth, gap : d, depth of a bar along the flow, and b, clear gap [m]
    inclination_deg : alpha, above the horizontal [deg]

    Range: p about 0.1 to 0.4. The constants in the bracket are doubtful.
    Source: Berezinski (1958); L. Levin (1968). From memory, unverified, low confidence.
    """
    bars = 8.0 + 2.3 * bar_depth / gap + 2.4 * gap / bar_depth
    zeta: float = shape_factor * solid**1.6 * bars * sin(radians(inclination_deg))
    return zeta


@kernel
def clark(shape_factor: float, solid: float, skew_deg: float) -> float:
    """Loss coefficient of a drowned rack in a conduit, after Clark.

    zeta = 7.43 eta (1 + 2.44 tan^2 theta) p^2

    Parameters
    ----------
    shape_factor : eta; rectangle 1, less for rounded bars [-]
    solid : p, solid share of the gross area [-]
    skew_deg : theta, between the flow and the screen's normal [deg]

    Range: p below about 0.35.
    Source: Clark et al. (2010). From memory, unverified, low confidence.
    """
    return 7.43 * shape_factor * (1.0 + 2.44 * tan(radians(skew_deg)) ** 2) * solid * solid


@kernel
def raynal(shape_factor: float, solid: float, inclination_deg: float) -> float:
    """Loss coefficient of the bars of an inclined fish rack, after Raynal.

    zeta = A (p / (1 - p))^1.65 sin^2(alpha)

    Parameters
    ----------
    shape_factor : A; rectangle 3.85, streamlined 2.10 [-]
    solid : p, share of the gross area taken by the bars [-]
    inclination_deg : alpha, above the horizontal [deg]

    Range: closely spaced fish racks, outside what stands at river inlets; the term for cross members is left
    out. `inf` when nothing is clear.
    Source: Raynal et al. (2013). From memory, unverified, low confidence; the limits of p are our judgement.
    """
    if solid >= 1.0:
        return inf
    upright = sin(radians(inclination_deg))
    zeta: float = shape_factor * (solid / (1.0 - solid)) ** 1.65 * upright * upright
    return zeta


@kernel
def wastewater_form(clear: float, discharge_factor: float) -> float:
    """Loss coefficient of a coarse treatment-works screen, from h = (Vb^2 - V^2) / (2g) / C.

    zeta = (1/f^2 - 1) / C, with Vb = V/f the velocity in the gaps.

    Parameters
    ----------
    clear : f, net over gross area [-]
    discharge_factor : C, 0.7 when clean [-]

    `inf` when nothing is clear.
    Source: wastewater engineering texts; form and worked example read in a public formula page
    (ajdesigner.com). The limits of f are our judgement.
    """
    if clear <= 0.0:
        return inf
    return (1.0 / (clear * clear) - 1.0) / discharge_factor
