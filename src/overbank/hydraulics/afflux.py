"""How much bridge piers raise the water: the published hand methods, to compare with.

None of them is solved in the row of structures; they rival each other and our own balance, which takes its losses from
Yarnell where a study names the shape of its piers. Each docstring says
what its depths and velocities mean, for that differs: Yarnell and the pier formulas count from the undisturbed
section downstream.

Sections here: 1 upstream, where the water stands highest; 2 between the piers; 3 downstream, undisturbed.
"""

from __future__ import annotations

from math import cos, radians, sqrt

from overbank._jit import kernel
from overbank.constants import GRAVITY
from overbank.hydraulics import roots


@kernel
def _froude_squared(flow: float, width: float, depth: float) -> float:
    return (flow / (width * depth)) ** 2 / (GRAVITY * depth)


@kernel
def yarnell(pier_k: float, froude: float, blocked: float) -> float:
    """Afflux of piers over the depth downstream, K Fr^2 (K + 5 Fr^2 - 0.6) (a + 15 a^4) [-].

    Parameters
    ----------
    pier_k : K, by the shape of the pier (tables/pier_shapes.csv) [-]
    froude : Fr3, downstream, undisturbed; not a computed one at the piers [-]
    blocked : a, width of all piers over the width of the channel [-]

    Range: subcritical throughout, not choked (`choking_limit`); a about 0.05 to 0.5; K is for piers four times
    as long as wide, longer ones give less. Flow askew by 10 degrees makes no appreciable difference, by 20
    degrees about 250 % more. In tests in Texas (2001, read in the abstract) it was found to give too much.
    Source: D. L. Yarnell (1934), USDA Technical Bulletin 442. Formula from memory, unverified; the K values
    were read in Novak et al., Hydraulic Structures, 4th ed., p. 437, but that of the trestle.
    """
    f2 = froude * froude
    return pier_k * f2 * (pier_k + 5.0 * f2 - 0.6) * (blocked + 15.0 * blocked**4)


@kernel
def yarnell_afflux(pier_k: float, flow: float, width: float, pier_width: float, depth: float) -> float:
    """Afflux of piers by `yarnell` [m].

    flow : [m3/s]; width, pier_width : of the channel and of all piers together [m]
    depth : y3, downstream, undisturbed [m]
    """
    return depth * yarnell(pier_k, sqrt(_froude_squared(flow, width, depth)), pier_width / width)


MATCHED_FROUDE, MATCHED_SHARE = 0.3, 0.1
"""Flow and share of the channel at which the losses of an energy balance are matched to Yarnell's (own choice)."""

CONTRACTS = 0.375
"""Share of a bridge's losses that is lost on the way in: 0.3 of 0.8 (common practice; from memory, unverified)."""


def pier_losses(pier_k: float) -> tuple[float, float]:
    """Loss of contraction and of expansion with which an energy balance lifts the water as `yarnell` does [-].

    In depths downstream, h the velocity head between the piers at depth y there, h1 and h3 those above and below:

        1 + h3 = y + h - Ke (h - h3)          y + h = 1 + rise + h1 - Kc (h - h1)

    pier_k : K, by the shape of the pier (tables/pier_shapes.csv) [-]

    Matched at Fr 0.3 with a tenth taken, where the two agree (closed form but for the root). Yarnell's rise grows
    faster with Fr: the docs say how far apart they are elsewhere.
    """
    rise, below = yarnell(pier_k, MATCHED_FROUDE, MATCHED_SHARE), 0.5 * MATCHED_FROUDE * MATCHED_FROUDE
    above = below / (1.0 + rise) ** 2

    def balance(y: float) -> tuple[float, float]:
        """All losses together for a depth between the piers, and what is left of the energy above."""
        head = below / ((1.0 - MATCHED_SHARE) * y) ** 2
        total = (y + head - 1.0 - below) / ((1.0 - CONTRACTS) * (head - below))
        return total, y + head + CONTRACTS * total * (head - above) - 1.0 - rise - above

    low, high = 0.9, 1.0 + rise
    bracket = roots.start(low, balance(low)[1], high, balance(high)[1])
    while roots.is_open(bracket, 1e-13):
        y = roots.propose(bracket)
        bracket = roots.narrow(bracket, y, balance(y)[1])
    total, _ = balance(roots.best(bracket))
    return CONTRACTS * total, (1.0 - CONTRACTS) * total


@kernel
def drag_afflux(drag: float, flow: float, width: float, pier_width: float, depth: float) -> float:
    """Afflux of piers by momentum between sections 1 and 3, with a drag force on the piers [m].

    B y1^2/2 + Q^2/(g B y1) = B y3^2/2 + Q^2/(g B y3) + CD w y1 V1^2/2g

    drag : CD; about 1.33 for semicircular ends, 2.0 for a flat plate (from memory, unverified) [-]; the rest as in
    `yarnell_afflux`. No friction, no slope, rectangular channel, subcritical. A balance computed for overbank
    (closed form); with CD 1.33 it is within 2.4 % of Yarnell's K = 0.90 in one case.
    """
    thrust = flow * flow / (GRAVITY * width)
    below = 0.5 * width * depth * depth + thrust / depth
    share = 1.0 - 0.5 * drag * pier_width / width
    critical = (flow * flow / (GRAVITY * width * width)) ** (1.0 / 3.0)
    low = max(depth, critical)
    f_low = 0.5 * width * low * low + thrust * share / low - below
    if f_low >= 0.0:
        return low - depth
    high = 2.0 * low
    f_high = 0.5 * width * high * high + thrust * share / high - below
    while f_high < 0.0:
        high *= 2.0
        f_high = 0.5 * width * high * high + thrust * share / high - below
    bracket = roots.start(low, f_low, high, f_high)
    while roots.is_open(bracket, 1e-13 * depth):
        y = roots.propose(bracket)
        bracket = roots.narrow(bracket, y, 0.5 * width * y * y + thrust * share / y - below)
    return roots.best(bracket) - depth


@kernel
def daubuisson_afflux(coefficient: float, flow: float, width: float, opening: float, depth: float) -> float:
    """Afflux h of piers by Q = KA b y3 sqrt(2 g h + V1^2), V1 in the channel upstream at depth y3 + h [m].

    Parameters
    ----------
    coefficient : KA, roughly 0.9 to 1.1 for slight blockage [-]
    flow, width : of the channel [m3/s], [m]
    opening : b, clear width between the piers [m]
    depth : y3, downstream, undisturbed [m]

    Ill-conditioned: 10 % in KA changes h by a factor of 2 to 11; never a default. 0 where the formula gives no rise.
    Source: J. F. d'Aubuisson. From memory, unverified.
    """
    needed = (flow / (coefficient * opening * depth)) ** 2
    f_low = (flow / (width * depth)) ** 2 - needed
    if f_low >= 0.0:
        return 0.0
    high = needed / (2.0 * GRAVITY)
    f_high = (flow / (width * (depth + high))) ** 2
    bracket = roots.start(0.0, f_low, high, f_high)
    while roots.is_open(bracket, 1e-13 * depth):
        h = roots.propose(bracket)
        value = 2.0 * GRAVITY * h + (flow / (width * (depth + h))) ** 2 - needed
        bracket = roots.narrow(bracket, h, value)
    return roots.best(bracket)


@kernel
def molesworth_afflux(velocity: float, clear: float) -> float:
    """Afflux of an obstruction, (V^2/17.88 + 0.01524) ((A/a)^2 - 1) [m].

    velocity : V, of the unobstructed flow [m/s]; clear : a/A, area left over area unobstructed [-]
    Dimensional: it does not scale. Source: G. L. Molesworth; formula read second hand on a public page.
    """
    return (velocity * velocity / 17.88 + 0.01524) * (1.0 / (clear * clear) - 1.0)


@kernel
def choking_limit(froude: float) -> float:
    """Clear share s of the width below which piers choke the flow, root of s = (2 + 1/s)^3 Fr^4 / (1 + 2 Fr^2)^3 [-].

    froude : Fr3, downstream, undisturbed; 0 to 1 [-]

    Critical flow in the share s of the width, momentum kept from there to section 3.
    Source: Novak et al., Hydraulic Structures, 4th ed., eq. 10.14, p. 437, read in the source (its print garbled) and
    derived again.
    """
    if froude <= 0.0:
        return 0.0
    if froude >= 1.0:
        return 1.0
    f2 = froude * froude
    rate = f2 * f2 / (1.0 + 2.0 * f2) ** 3
    low, high = rate ** (1.0 / 3.0), 1.0
    bracket = roots.start(low, low - (2.0 + 1.0 / low) ** 3 * rate, high, high - (2.0 + 1.0 / high) ** 3 * rate)
    while roots.is_open(bracket, 1e-13):
        share = roots.propose(bracket)
        bracket = roots.narrow(bracket, share, share - (2.0 + 1.0 / share) ** 3 * rate)
    return roots.best(bracket)


@kernel
def choked_depths(loss: float, flow: float, width: float, opening: float) -> tuple[float, float]:
    """Depth between choked piers, which is critical, and depth upstream of them [m].

    y2 = (q^2/g)^(1/3),  y1 + V1^2/2g = 1.5 y2 + CL V1^2/2g

    loss : CL, 0.35 for square and 0.18 for rounded ends (tables/pier_choking.csv) [-]
    flow, width, opening : of the channel and clear between the piers [m3/s], [m]
    Range: opening over width below `choking_limit`; piers about four times as long as wide.
    Source: Novak et al., Hydraulic Structures, 4th ed., eq. 10.15, p. 437, read in the source.
    """
    between = ((flow / opening) ** 2 / GRAVITY) ** (1.0 / 3.0)
    energy = 1.5 * between
    rate = (1.0 - loss) * (flow / width) ** 2 / (2.0 * GRAVITY)
    low = (2.0 * rate) ** (1.0 / 3.0)
    f_low = low + rate / (low * low) - energy
    bracket = roots.start(low, f_low, energy, rate / (energy * energy))
    while roots.is_open(bracket, 1e-13 * energy):
        y = roots.propose(bracket)
        bracket = roots.narrow(bracket, y, y + rate / (y * y) - energy)
    return between, roots.best(bracket)


@kernel
def projected_opening(length_along_road: float, skew_deg: float) -> float:
    """Opening square to the flow of a skewed bridge, b cos(skew) [m]; to be applied once.

    length_along_road : b; not a length that was already taken square to the flow [m]
    skew_deg : between the flow and the bridge's own axis; 0 for a square crossing [deg]
    Source: FHWA HDS-1 (1978), figure 7, read in a scan without a title that matches it. (A bridge of 60 ft square to
    the flow at 30 degrees is 69.3 ft long by the road: TxDOT, Hydraulic Design Manual, read in the source. Ask which
    length is given.)
    """
    return length_along_road * cos(radians(skew_deg))
