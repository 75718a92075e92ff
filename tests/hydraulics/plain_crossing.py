"""A crossing solved a second time, in plain Python and SciPy: the route that the compiled formulas are checked against.

Nothing of the package is used but the names of codes. What is done differently:
sections by the inverse cosine of the depth and SciPy's elliptic integrals; the profile by quadrature of
dx/dy = (1 - Fr^2) / (Sf - S), searched for the depth whose distance is the length of the barrel;
every inverse by `scipy.optimize.brentq`; the zone between the inlet equations by SciPy's Hermite spline.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicHermiteSpline
from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc

G = 9.81
KU = 0.3048**-0.5
ROOF_ZONE = 0.02
SILT_ZONE, SILT_N = 0.02, 0.03
UNIFORM, RAFT, BOTTOM_UP = 0, 1, 2
NODES, WEIGHTS = np.polynomial.legendre.leggauss(20)

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Tube:
    """A barrel's section: box, pipe, arch or ellipse; depths are measured from the top of the silt."""

    shape: str
    span: float
    rise: float
    n: float
    bed_n: float
    wall: float = 0.0
    silt: float = 0.0

    @property
    def room(self) -> float:
        return self.rise - self.silt

    def _crown(self) -> tuple[float, float]:
        f = self.rise - self.wall
        radius = (self.span**2 / 4 + f * f) / (2 * f)
        return radius, self.rise - radius

    def width_at(self, z: ArrayLike) -> Floats:
        z = np.clip(np.asarray(z, float), 0.0, self.rise)
        if self.shape == "box":
            width = np.full_like(z, self.span)
        elif self.shape == "arch":
            radius, centre = self._crown()
            crown = 2 * np.sqrt(np.maximum(radius**2 - (z - centre) ** 2, 0.0))
            width = np.where(z <= self.wall, self.span, crown)
        else:
            width = 2 * self.span / self.rise * np.sqrt(z * (self.rise - z))
        return np.where(z >= self.rise, 0.0, width)

    def area_below(self, z: ArrayLike) -> Floats:
        z = np.clip(np.asarray(z, float), 0.0, self.rise)
        if self.shape == "box":
            return self.span * z
        if self.shape == "arch":
            radius, centre = self._crown()
            cap = radius - np.maximum(z - centre, self.wall - centre)  # height of the cap still dry
            dry = radius**2 * np.arccos(np.clip(1 - cap / radius, -1, 1)) - (radius - cap) * np.sqrt(
                np.maximum(2 * radius * cap - cap**2, 0.0)
            )
            whole_cap = self.rise - self.wall
            whole = radius**2 * np.arccos(np.clip(1 - whole_cap / radius, -1, 1)) - (radius - whole_cap) * sqrt(
                max(2 * radius * whole_cap - whole_cap**2, 0.0)
            )
            return np.where(z <= self.wall, self.span * z, self.span * self.wall + whole - dry)
        r = self.rise / 2
        circle = r * r * np.arccos(np.clip((r - z) / r, -1, 1)) - (r - z) * np.sqrt(z * (self.rise - z))
        return circle * self.span / self.rise

    def perimeter_below(self, z: ArrayLike) -> Floats:
        z = np.clip(np.asarray(z, float), 0.0, self.rise)
        if self.shape == "box":
            share = np.clip((z / self.rise - (1 - ROOF_ZONE)) / ROOF_ZONE, 0, 1)
            return self.span + 2 * z + self.span * (3 * share**2 - 2 * share**3)
        if self.shape == "arch":
            radius, centre = self._crown()
            top = np.arccos(np.clip((z - centre) / radius, -1, 1))
            spring = np.arccos(np.clip((self.wall - centre) / radius, -1, 1))
            curved = self.span + 2 * self.wall + 2 * radius * (spring - top)
            return np.where(z <= self.wall, self.span + 2 * z, curved)
        a, c = self.span / 2, self.rise / 2
        angle = np.arccos(np.clip((c - z) / c, -1, 1))  # of the ellipse's parameter, from the invert
        if self.span == self.rise:
            return 2 * a * angle
        # quarter arcs of (a sin t, c cos t) from the invert: ds = a sqrt(1 - (1 - c^2/a^2) sin^2 t) dt
        m = 1 - (c / a) ** 2
        return 2 * a * np.where(angle <= np.pi / 2, ellipeinc(angle, m), 2 * ellipe(m) - ellipeinc(np.pi - angle, m))

    def area(self, y: ArrayLike) -> Floats:
        return self.area_below(np.asarray(y, float) + self.silt) - self.area_below(self.silt)

    def width(self, y: ArrayLike) -> Floats:
        return self.width_at(np.asarray(y, float) + self.silt)

    def bed(self) -> float:
        return float(self.width_at(self.silt)) if self.silt > 0 or self.shape in ("box", "arch") else 0.0

    def perimeter(self, y: ArrayLike) -> Floats:
        whole = self.perimeter_below(np.asarray(y, float) + self.silt)
        return whole if self.silt == 0 else whole - self.perimeter_below(self.silt) + self.bed()

    def roughness(self, perimeter: ArrayLike) -> Floats:
        bed_n = max(self.bed_n, self.n) if self.shape in ("pipe", "ellipse") else self.bed_n
        bed_n += min(1.0, self.silt / (SILT_ZONE * self.rise)) * max(SILT_N - bed_n, 0.0)
        bed = self.bed()
        return ((bed * bed_n**1.5 + (perimeter - bed) * self.n**1.5) / perimeter) ** (2 / 3)

    def friction(self, flow: float, y: ArrayLike) -> Floats:
        a, p = self.area(y), self.perimeter(y)
        return (self.roughness(p) * flow / a) ** 2 * (p / a) ** (4 / 3)

    def head(self, flow: float, y: float) -> float:
        return (flow / float(self.area(y))) ** 2 / (2 * G)

    def critical(self, flow: float) -> float:
        if self.shape == "box":
            return min((flow**2 / (G * self.span**2)) ** (1 / 3), self.room)

        def excess(y: float) -> float:
            return flow**2 * float(self.width(y)) - G * float(self.area(y)) ** 3

        return brentq(excess, 1e-9 * self.room, self.room * (1 - 1e-12), xtol=1e-14)

    def joints(self) -> list[float]:
        if self.shape == "box":
            return [(1 - ROOF_ZONE) * self.rise - self.silt]
        return [self.wall - self.silt] if self.shape == "arch" else []

    def height_of_share(self, share: float) -> float:
        full = float(self.area_below(self.rise))
        return brentq(lambda z: float(self.area_below(z)) - share * full, 0.0, self.rise, xtol=1e-14)


def distance(tube: Tube, flow: float, slope: float, low: float, high: ArrayLike) -> Floats:
    """Distance over which the depth changes from `low` to each of `high`, by Gauss-Legendre quadrature."""
    high = np.atleast_1d(high)
    half = 0.5 * (high - low)[:, None]
    y = low + half * (1 + NODES)
    froude = flow**2 * tube.width(y) / (G * tube.area(y) ** 3)
    with np.errstate(divide="ignore"):  # at normal depth the distance is infinite
        return ((1 - froude) / (tube.friction(flow, y) - slope) * WEIGHTS * half).sum(axis=1)


def _end_of_profile(tube: Tube, flow: float, slope: float, y0: float, critical: float, rising: bool) -> float:
    """Normal depth on the way of the profile, or else the roof (rising) or critical depth (falling)."""
    end = tube.room if rising else critical
    ladder = np.linspace(y0, end, 400)[1:]
    ladder[-1] = end - 1e-12 * (end - y0)
    excess = tube.friction(flow, ladder) - slope
    wrong = np.flatnonzero((excess < 0) if rising else (excess > 0))
    if len(wrong) == 0:
        return end
    k = wrong[0]
    before = ladder[k - 1] if k else y0
    return brentq(lambda y: float(tube.friction(flow, y)) - slope, before, ladder[k], xtol=1e-14)


def depth_at_inlet(tube: Tube, flow: float, slope: float, length: float, start: float) -> float:
    """Depth at the upstream end of a barrel from the depth at its outlet."""
    critical, roof = tube.critical(flow), tube.room
    y0, remaining = max(start, critical), length
    pressed = float(tube.friction(flow, roof)) - slope
    if y0 >= roof:
        if pressed >= 0 or y0 + pressed * length >= roof:
            return y0 + pressed * length
        remaining, y0 = length - (roof - y0) / pressed, roof * (1 - 1e-13)
    rising = float(tube.friction(flow, y0)) > slope
    if not rising and y0 <= critical * (1 + 1e-12):
        return critical
    end = _end_of_profile(tube, flow, slope, y0, critical, rising)
    steps = [end + (y0 - end) * 0.6**k for k in range(1, 60)]
    joints = [y for y in tube.joints() if min(y0, end) < y < max(y0, end)]
    edges = sorted([y0, *steps, *joints], reverse=not rising)
    covered = 0.0
    for low, high in pairwise(edges):
        piece = float(distance(tube, flow, slope, low, high)[0])
        if covered + piece >= remaining:
            return brentq(
                lambda y, low=low, left=remaining - covered: float(distance(tube, flow, slope, low, y)[0]) - left,
                low,
                high,
                xtol=1e-14,
            )
        covered += piece
    return roof + pressed * (remaining - covered) if end == roof else end


@dataclass(frozen=True)
class Inlet:
    """Constants of an inlet and its losses."""

    form: int
    K: float
    M: float
    c: float
    Y: float
    slope_factor: float
    factor: float
    entrance_loss: float
    exit_loss: float


@dataclass(frozen=True)
class Bars:
    """A screen before the barrels."""

    width: float
    height: float
    sill: float
    clear: float
    clean_loss: float
    blockage: float
    pattern: int
    over: float
    degrees: float = 90.0


@dataclass(frozen=True)
class Crossing:
    """`count` barrels, with a screen and a road or without."""

    tube: Tube
    inlet: Inlet
    count: float
    length: float
    upstream: float
    downstream: float
    blockage: float
    pattern: int
    bars: Bars | None
    road: tuple[float, float, float] | None

    @property
    def slope(self) -> float:
        return (self.upstream - self.downstream) / self.length


def intensity(flow: float, area: float, height: float) -> float:
    return KU * flow / (area * sqrt(height))


def unsubmerged(inlet: Inlet, tube: Tube, flow: float, slope: float, area: float, height: float) -> float:
    """Head by the unsubmerged equation; a slope that raises it counts on the whole rise of the barrel."""
    q = intensity(flow, area, height)
    yc = tube.critical(flow)
    energy = yc + tube.head(flow, yc)
    if inlet.form == 2:
        return max(height * inlet.K * q**inlet.M, energy)
    tilt = inlet.slope_factor * slope * min(1.0, q / 0.5)
    counted = tube.rise if tilt > 0 else height
    return max(energy + height * inlet.K * q**inlet.M + counted * tilt, energy)


def submerged(inlet: Inlet, tube: Tube, flow: float, slope: float, area: float, height: float) -> float:
    q = intensity(flow, area, height)
    yc = tube.critical(flow)
    return max(height * (inlet.c * q * q + inlet.Y + inlet.slope_factor * slope), yc + tube.head(flow, yc))


def clean_inlet_head(inlet: Inlet, tube: Tube, flow: float, slope: float) -> float:
    """Head of a clean inlet: both equations and a monotone cubic between q = 3.5 and 4."""
    d, a = tube.room, float(tube.area(tube.room))
    q = intensity(flow, a, d)
    if q <= 3.5:
        return unsubmerged(inlet, tube, flow, slope, a, d)
    at = flow / q * 3.5
    low = unsubmerged(inlet, tube, at, slope, a, d) / d
    if q >= 4.0:
        return max(submerged(inlet, tube, flow, slope, a, d), low * d)
    high = max(inlet.c * 16 + inlet.Y + inlet.slope_factor * slope, low)
    chord = (high - low) / 0.5
    rise = (low - unsubmerged(inlet, tube, at * (1 - 1e-5), slope, a, d) / d) / (3.5 * 1e-5)
    slopes = [min(max(rise, 0.0), 3 * chord), min(8 * inlet.c, 3 * chord)]
    yc = tube.critical(flow)
    return max(d * float(CubicHermiteSpline([3.5, 4.0], [low, high], slopes)(q)), yc + tube.head(flow, yc))


def _left(tube: Tube, pattern: int, closed: float) -> tuple[Tube, float, float]:
    left = tube if pattern == RAFT else replace(tube, silt=closed)
    height = tube.rise - closed
    return left, float(left.area(height)), height


def blocked_inlet_head(c: Crossing, flow: float) -> float:
    """Inlet head with the share of the full area closed by one of three patterns, never less than with less closed."""
    tube, inlet = c.tube, c.inlet
    clean = inlet.factor * clean_inlet_head(inlet, tube, flow, c.slope)
    if c.blockage == 0:
        return clean
    if c.pattern == UNIFORM:
        return inlet.factor * clean_inlet_head(inlet, tube, flow / (1 - c.blockage), c.slope)

    def by(equation: object, closed: float) -> float:
        left, a, height = _left(tube, c.pattern, closed)
        bed = 0.0 if c.pattern == RAFT else closed
        return bed + inlet.factor * equation(inlet, left, flow, c.slope, a, height)  # type: ignore[operator]

    def q_when(closed: float) -> float:
        _, a, height = _left(tube, c.pattern, closed)
        return intensity(flow, a, height)

    raft = c.pattern == RAFT
    closed = tube.rise - tube.height_of_share(1 - c.blockage) if raft else tube.height_of_share(c.blockage)
    q, start, held = q_when(closed), q_when(0.0), clean
    if q <= 3.5:
        return max(clean, by(unsubmerged, closed))
    last = tube.rise * (1 - 1e-6)
    if start < 3.5:
        start = 3.5
        held = max(held, by(unsubmerged, brentq(lambda z: 1 / q_when(z) - 1 / 3.5, 0, last, xtol=1e-14)))
    drowned = held
    if start < 4.0:
        drowned = max(held, by(submerged, brentq(lambda z: 1 / q_when(z) - 1 / 4.0, 0, last, xtol=1e-14)))
    if q < 4.0:
        return float(np.interp(q, [start, 4.0], [held, drowned]))
    return max(drowned, by(submerged, closed))


def mildness(tube: Tube, flow: float, slope: float) -> float:
    """1 where friction at critical depth holds up the slope, 0 where that at 0.95 of it does not, even between."""
    if slope <= 0:
        return 1.0
    yc = tube.critical(flow)
    shallow, at_critical = float(tube.friction(flow, 0.95 * yc)), float(tube.friction(flow, yc))
    if shallow <= slope:
        return 0.0
    return 1.0 if at_critical >= slope else float(np.interp(slope, [at_critical, shallow], [1, 0]))


def _inlet_end(
    tube: Tube, inlet: Inlet, flow: float, slope: float, length: float, tailwater: float
) -> tuple[float, float]:
    """Depth at the inlet end, and depth at the outlet: the tailwater's, with less where velocity head is won back."""
    yc, won = tube.critical(flow), 1 - inlet.exit_loss

    def recovered(y: float) -> float:
        return y + won * tube.head(flow, y) - tailwater

    out = max(tailwater, yc)
    if won > 0 and tailwater > yc:
        out = yc if recovered(yc) >= 0 else brentq(recovered, yc, tailwater, xtol=1e-13)
    return depth_at_inlet(tube, flow, slope, length, out), out


def _published(
    tube: Tube, inlet: Inlet, flow: float, slope: float, length: float, tailwater: float
) -> tuple[float, bool]:
    """Head y + (1 + Ke) V^2/2g at the inlet end, and whether it rises with the depth there."""
    y, _ = _inlet_end(tube, inlet, flow, slope, length, tailwater)
    loss = 1 + inlet.entrance_loss
    froude = flow**2 * float(tube.width(y)) / (G * float(tube.area(y)) ** 3)
    return y + loss * tube.head(flow, y), loss * froude <= 1


def outlet_head(tube: Tube, inlet: Inlet, flow: float, slope: float, length: float, tailwater: float) -> float:
    """The published head where it rises with the depth; else critical energy, held as told in the kernels.

    The highest head of a lesser flow is found by halving: the most flow with which the head still rises.
    """
    yc, loss = tube.critical(flow), 1 + inlet.entrance_loss
    mild = mildness(tube, flow, slope)
    middle = ((1 + loss / 2) + 1.5 * loss ** (1 / 3)) / 2  # of a box, yc = 1: at critical depth and at its least
    least = yc + (1 + mild * 2 * (middle - 1.5)) * tube.head(flow, yc)
    drowned = tailwater > yc and _inlet_end(tube, inlet, flow, 1e-3, 1e-9, tailwater)[1] > yc
    if mild == 0 and not drowned:
        return least
    head, rising = _published(tube, inlet, flow, slope, length, tailwater)
    if rising:
        return max(head, least)
    low, high = flow / sqrt(loss), flow
    if mild == 1 or not drowned or not _published(tube, inlet, low, slope, length, tailwater)[1]:
        return least
    while high - low > 1e-7 * flow:
        between = 0.5 * (low + high)
        low, high = (between, high) if _published(tube, inlet, between, slope, length, tailwater)[1] else (low, between)
    return max(_published(tube, inlet, low, slope, length, tailwater)[0], least)


def silted_outlet_head(c: Crossing, flow: float, depth: float) -> float:
    """With silt in the barrel: never less than with the most silt with which the head still rises, found by halving."""

    def of(silt: float) -> tuple[Tube, Inlet, float, float, float, float]:
        return replace(c.tube, silt=silt), c.inlet, flow, c.slope, c.length, depth - silt

    low, high = 0.0, c.tube.height_of_share(c.blockage)
    head = high + outlet_head(*of(high))
    if _published(*of(high))[1]:
        return head
    if not _published(*of(low))[1]:
        return max(head, outlet_head(*of(low)))
    while high - low > 1e-7 * c.tube.rise:
        between = 0.5 * (low + high)
        low, high = (between, high) if _published(*of(between))[1] else (low, between)
    return max(head, low + _published(*of(low))[0])


def slots(cd: float, width: float, low: float, high: float, up: float, down: float) -> float:
    """Flow through open height low..high: the drowned part and the free part of the general law."""
    top = min(high, up)
    if top <= low or up <= down:
        return 0.0
    a = float(np.clip(down, low, top))
    drowned = (a - low) * sqrt(up - down) if a > low else 0.0
    return cd * sqrt(2 * G) * width * (drowned + 2 / 3 * ((up - a) ** 1.5 - (up - top) ** 1.5))


def bars_head(flow: float, down: float, bars: Bars, free_cd: float) -> float:
    """Head above the sill before a screen or a blocked opening."""
    behind, left = max(down, 0.0), 1 - bars.blockage
    f = bars.clear * left
    longer = 1 / np.sin(np.radians(bars.degrees))  # the open area along the bars over the upright one
    zeta = max((1 / (f * (0.62 + 0.38 * f**3)) - 1) ** 2 / longer**2, bars.clean_loss / left**2)
    cd = 1 / (f * sqrt(zeta))

    def passed(up: float) -> float:
        if bars.pattern == UNIFORM:
            low, high, width = 0.0, bars.height, bars.width * f
        elif bars.pattern == RAFT:
            low, high, width = 0.0, left * min(up, bars.height), bars.width * bars.clear
        else:
            low, high, width = bars.blockage * bars.height, bars.height, bars.width * bars.clear
        through = slots(cd, width, low, high, up, down)
        if free_cd < inf:
            through = min(through, slots(free_cd, width * longer, low, high, up, -inf))
        over = up - bars.height
        if over > 0:
            ratio = min(max((down - bars.height) / over, 0.0), 1.0)
            through += bars.over * bars.width * over**1.5 * (1 - ratio**1.5) ** 0.385
        return through - flow

    high = behind + 1e-3
    while passed(high) < 0:
        high = behind + 2 * (high - behind)
    return brentq(passed, behind, high, xtol=1e-12)


def barrel_level(c: Crossing, flow: float, tailwater: float) -> float:
    """Headwater of the barrels for the flow of all of them."""
    each, depth = flow / c.count, tailwater - c.downstream
    inlet = blocked_inlet_head(c, each)
    if c.blockage == 0:
        outlet = outlet_head(c.tube, c.inlet, each, c.slope, c.length, depth)
    elif c.pattern == BOTTOM_UP:
        outlet = silted_outlet_head(c, each, depth)
    else:
        behind = outlet_head(c.tube, c.inlet, each, c.slope, c.length, depth)
        d = c.tube.rise
        plug = Bars(float(c.tube.area(d)) / d, d, 0.0, 1.0, 0.0, c.blockage, c.pattern, 0.0)
        outlet = bars_head(each, behind, plug, inf)
    return c.upstream + max(inlet, outlet)


def level_through(c: Crossing, flow: float, tailwater: float) -> float:
    behind = barrel_level(c, flow, tailwater)
    if c.bars is None:
        return behind
    return max(c.bars.sill + bars_head(flow, behind - c.bars.sill, c.bars, 0.6), behind)


def level_over(c: Crossing, flow: float, tailwater: float) -> float:
    """Level that sends a flow over the road, drowned from behind or not."""
    assert c.road is not None
    crest, length, coefficient = c.road
    drowned = max(tailwater - crest, 0.0)

    def passed(head: float) -> float:
        s = drowned / head
        kt = 1.0 if s <= 0.8 else sqrt(max(1 - ((s - 0.8) / 0.2) ** 2, 0.0))
        return kt * coefficient * length * head**1.5 - flow

    if flow <= 0:
        return crest + drowned
    high = max(drowned / 0.8, (flow / (coefficient * length)) ** (2 / 3)) * 1.001
    return crest + brentq(passed, max(drowned, 1e-15), high, xtol=1e-13)


def pool(c: Crossing, flow: float, tailwater: float) -> float:
    """Level upstream of the crossing."""
    alone = level_through(c, flow, tailwater)
    if c.road is None or alone <= level_over(c, 0.0, tailwater):
        return alone
    least = 1e-7 * flow

    def gap(through: float) -> float:
        return level_through(c, through, tailwater) - level_over(c, flow - through, tailwater)

    if gap(least) >= 0:
        return level_over(c, flow, tailwater)
    return level_over(c, flow - brentq(gap, least, flow, xtol=1e-9 * flow), tailwater)
