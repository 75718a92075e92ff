"""An undershot sluice gate: the level upstream for a flow and the level below.

Three states, on a level floor (the sill). With yj = Cc a the depth of the jet, a the opening, Y the depth of the water
that stands on the jet, 1 upstream, 3 downstream:

    jet free      E1 = yj + vj^2/2g
    jet drowned   E1 = Y + vj^2/2g,   A3/D3 (D3^2 - Y^2)/2 = Q (vj - V3)/g     (energy above, momentum below)
    lip clear     the opening alone: the same momentum with the stream as deep as Y, or critical depth

Depths Y and D3 count from the bed below. With the gate as wide as the channel and no sill the momentum is the usual
y^2/2 + q^2/(g yj) = y3^2/2 + q^2/(g y3). Beside a narrower gate and in front of a sill the water stands as on the
jet, as in Borda's widening (own proposal, not published). The momentum tells whether the jet is drowned, so the
two states meet.

The energy + momentum pair gives two flows for one level just after the jet is drowned; the smaller is taken. Seen from
the flow: the level stays at the highest that any smaller flow would make, so it never falls as the flow rises.

Lip out of the water. A gate is no gate once its opening exceeds the depth that would stand there anyway. Up to 2/3 of
the energy head with nothing there (H0) Cc is as given; from there it rises linearly, to 1 at H0 (own proposal).

Over the top water goes as over a thin plate. Cc 0.61 is usual (read as given in published exercises).
Source: energy and momentum; V. T. Chow (1959), "Open-Channel Hydraulics", chapters 3 and 17, from memory, unverified;
check values in tests/published/gates.csv.
"""

from __future__ import annotations

from math import acos, cos, inf, pi, sqrt
from typing import NamedTuple

from overbank._jit import kernel, take
from overbank.constants import GRAVITY
from overbank.hydraulics import roots
from overbank.hydraulics.columns import size
from overbank.hydraulics.rows import Table, put
from overbank.hydraulics.screens import overflow

FREE_JET, DROWNED_JET, LIP_CLEAR, SHUT_GATE = 1, 2, 3, 9
"""What governs under the gate: its jet; jet and level below; nothing but the opening; no opening."""

CLEARS_FROM = 2.0 / 3.0
"""Opening over the energy head with nothing there, from which on the lip leaves the water."""


class Gate(NamedTuple):
    """A gate, or several like ones side by side.

    width : of the opening [m]; opening : lip above the sill [m]; contraction : Cc, 0 to 1 [-]
    approach_width : of the channel upstream, a rectangle, `inf` for still water; not below `width` [m]
    bed, sill : levels of the bed on both sides and of the floor below the lip, the sill not below the bed [m]
    top : level of the gate's upper edge, `inf` for none [m]
    top_coefficient : C of Q = C b h^1.5 over the top, 0 for none [m^0.5/s]
    """

    width: float
    opening: float
    contraction: float
    approach_width: float
    bed: float
    sill: float
    top: float
    top_coefficient: float


class GateState(NamedTuple):
    """What a gate does with a flow.

    level, energy : just upstream [m]; `inf` when there is no way through
    regime : FREE_JET, DROWNED_JET, LIP_CLEAR or SHUT_GATE
    gate_flow, over_flow : below the lip and over the top [m3/s]
    jet_depth : where the jet is narrowest, above the sill [m]; jet_velocity : there [m/s]
    """

    level: float
    energy: float
    regime: float
    gate_flow: float
    over_flow: float
    jet_depth: float
    jet_velocity: float


class Below(NamedTuple):
    """The water below: D3, above the bed, at critical depth at least [m]; `narrowness` 1/B3 of its mean width [1/m]."""

    depth: float
    narrowness: float


@kernel
def free_jet_flow(depth: float, opening: float, width: float, contraction: float) -> float:
    """Flow below a gate with a free jet, Q = Cc a b sqrt(2 g y1 / (1 + Cc a/y1)) [m3/s].

    depth, opening, width : y1, a, b [m]; contraction : Cc [-]. Level floor, gate as wide as the channel.
    Source: energy, closed form; the textbook's Cd = Cc / sqrt(1 + Cc a/y1).
    """
    jet = contraction * opening
    return jet * width * sqrt(2.0 * GRAVITY * depth / (1.0 + jet / depth))


@kernel
def bollrich_contraction(opening_over_depth: float) -> float:
    """Contraction coefficient of a vertical gate, Cc = 1 / (1 + 0.64 sqrt(1 - (a/h0)^2)) [-].

    opening_over_depth : a/h0, 0 to 1 [-]. Source: G. Bollrich, Technische Hydromechanik, 5th edition, equation 8.25.
    Read second hand. To judge the given coefficient by; not used in the solver.
    """
    return 1.0 / (1.0 + 0.64 * sqrt(max(1.0 - opening_over_depth * opening_over_depth, 0.0)))


@kernel
def jet_energy(flow: float, width: float, jet: float) -> float:
    """Energy of a jet of depth yj above its floor, yj + (Q/(b yj))^2/2g [m]."""
    v = flow / (width * jet)
    return jet + v * v / (2.0 * GRAVITY)


@kernel
def depth_with_energy(energy: float, flow: float, width: float) -> float:
    """The deeper of the two depths of a rectangle with an energy [m]; 2/3 of it where the energy is too small.

    y = E/3 (1 + 2 cos(phi/3)),  cos phi = 1 - 27 q^2/(4 g E^3): the closed root of the cubic.
    """
    if width == inf or flow <= 0.0:
        return energy
    q = flow / width
    share = 1.0 - 6.75 * q * q / (GRAVITY * energy * energy * energy)
    phi = pi if share <= -1.0 else acos(share)
    return energy / 3.0 * (1.0 + 2.0 * cos(phi / 3.0))


@kernel
def critical(flow: float, width: float) -> float:
    """Critical depth in the opening [m]."""
    return (flow / width) ** (2.0 / 3.0) / GRAVITY ** (1.0 / 3.0)


@kernel
def water_below(g: Gate, flow: float, level_below: float, energy_below: float) -> Below:
    """The water below from level and energy: B3 = Q/(V3 D3), still (B3 endless) where they are equal."""
    depth = max(level_below - g.bed, 0.0)
    velocity = sqrt(2.0 * GRAVITY * max(energy_below - level_below, 0.0))
    narrowness = min(velocity * depth / flow, 1.0 / g.width)
    q = flow * narrowness
    return Below(max(depth, (q * q / GRAVITY) ** (1.0 / 3.0)), narrowness)


@kernel
def _loss_of_thrust(g: Gate, b: Below, jet: float) -> float:
    """k of D3^2 - Y^2 = k Q^2 for a jet that is `jet` deep [s2/m4]."""
    if b.depth <= 0.0:
        return 0.0
    return 2.0 / GRAVITY * b.narrowness * (1.0 / (g.width * jet) - b.narrowness / b.depth)


@kernel
def _standing_squared(g: Gate, b: Below, flow: float, jet: float) -> float:
    """Y^2, of the depth of the water on a drowned jet [m2]."""
    return b.depth * b.depth - _loss_of_thrust(g, b, jet) * flow * flow


@kernel
def _surplus(g: Gate, b: Below, flow: float, jet: float) -> float:
    """Y^2 less the square of the jet's own height above the bed: positive where the jet is drowned [m2]."""
    height = jet + g.sill - g.bed
    return _standing_squared(g, b, flow, jet) - height * height


@kernel
def clear_depth(g: Gate, b: Below, flow: float) -> float:
    """Depth in the opening with the lip out of the water: by momentum from below, or critical [m]."""
    low = critical(flow, g.width)
    high = b.depth - (g.sill - g.bed)
    if high <= low:
        return low
    f_low, f_high = _surplus(g, b, flow, low), _surplus(g, b, flow, high)
    if f_low <= 0.0:
        return low
    if f_high >= -1e-14 * b.depth * b.depth:
        return high
    bracket = roots.start(low, f_low, high, f_high)
    while roots.is_open(bracket, 1e-12 * high):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _surplus(g, b, flow, x))
    return roots.best(bracket)


@kernel
def _jet_depth(g: Gate, flow: float, clear: float) -> float:
    """Depth of the jet, at most the clear depth [m]."""
    head = jet_energy(flow, g.width, clear)
    past = (g.opening / head - CLEARS_FROM) / (1.0 - CLEARS_FROM)
    if past >= 1.0:
        return clear
    contraction = g.contraction + (1.0 - g.contraction) * max(past, 0.0)
    return min(contraction * g.opening, clear)


@kernel
def _standing_level(g: Gate, b: Below, flow: float, jet: float) -> float:
    """Depth upstream above the bed for a drowned jet [m]."""
    v = flow / (g.width * jet)
    energy = sqrt(max(_standing_squared(g, b, flow, jet), 0.0)) + v * v / (2.0 * GRAVITY)
    return depth_with_energy(energy, flow, g.approach_width)


@kernel
def _rises(g: Gate, b: Below, flow: float, jet: float) -> float:
    """Sign of the change of the depth upstream with the flow, the jet being drowned."""
    standing = sqrt(max(_standing_squared(g, b, flow, jet), 0.0))
    v, u = g.width * jet, g.approach_width * _standing_level(g, b, flow, jet)
    return (1.0 / (v * v) - 1.0 / (u * u)) * standing - GRAVITY * _loss_of_thrust(g, b, jet)


@kernel
def _highest_drowned(g: Gate, b: Below, flow: float, jet: float) -> float:
    """The highest depth upstream that any flow up to this one makes with the jet drowned [m]."""
    height = jet + g.sill - g.bed
    last = (b.depth * b.depth - height * height) / max(_loss_of_thrust(g, b, jet), 1e-300)
    high = min(flow, sqrt(max(last, 0.0)))
    if high <= 0.0:
        return b.depth
    f_high = _rises(g, b, high, jet)
    if f_high >= 0.0:
        return _standing_level(g, b, high, jet)
    f_low = _rises(g, b, 1e-9 * high, jet)
    if f_low <= 0.0:
        return b.depth
    bracket = roots.start(1e-9 * high, f_low, high, f_high)
    while roots.is_open(bracket, 1e-9 * high):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, _rises(g, b, x, jet))
    return max(b.depth, _standing_level(g, b, roots.best(bracket), jet))


@kernel
def depth_under(g: Gate, b: Below, flow: float) -> tuple[float, float, int]:
    """Depth upstream above the bed when all the flow goes below the lip [m], depth of the jet [m], what governs."""
    clear = clear_depth(g, b, flow)
    jet = _jet_depth(g, flow, clear)
    energy = g.sill - g.bed + jet_energy(flow, g.width, jet)
    alone = max(b.depth, depth_with_energy(energy, flow, g.approach_width))
    if jet >= clear:
        return alone, jet, LIP_CLEAR
    if b.depth <= jet + g.sill - g.bed:
        return alone, jet, FREE_JET
    drowned = _highest_drowned(g, b, flow, jet)
    if drowned > alone or _surplus(g, b, flow, jet) > 0.0:
        return max(drowned, b.depth), jet, DROWNED_JET
    return alone, jet, FREE_JET


@kernel
def level_over_top(g: Gate, flow: float, level_below: float) -> float:
    """Level upstream when the flow goes over the top alone [m]; `inf` without a top."""
    if g.top == inf or g.top_coefficient <= 0.0:
        return inf
    low = max(g.top, level_below)
    if flow <= 0.0:
        return low
    step = (flow / (g.top_coefficient * g.width)) ** (2.0 / 3.0)
    high = low + step
    f_high = overflow(high, level_below, g.top, g.width, g.top_coefficient) - flow
    while f_high < 0.0 and high < 1e9:
        step *= 2.0
        high = low + step
        f_high = overflow(high, level_below, g.top, g.width, g.top_coefficient) - flow
    bracket = roots.start(low, -flow, high, f_high)
    while roots.is_open(bracket, 1e-10):
        x = roots.propose(bracket)
        bracket = roots.narrow(bracket, x, overflow(x, level_below, g.top, g.width, g.top_coefficient) - flow)
    return roots.best(bracket)


@kernel
def _level_under(g: Gate, b: Below, flow: float, level_below: float) -> float:
    if flow <= 0.0:
        return max(level_below, g.sill)
    if g.opening <= 0.0:
        return inf
    return max(g.bed + depth_under(g, b, flow)[0], level_below)


@kernel
def _flow_under(g: Gate, b: Below, flow: float, level_below: float) -> float:
    """Share of the flow below the lip [m3/s]."""
    if level_over_top(g, 0.0, level_below) == inf:
        return flow
    if g.opening <= 0.0:
        return 0.0
    high = _level_under(g, b, flow, level_below) - level_over_top(g, 0.0, level_below)
    if high <= 0.0:
        return flow
    low = _level_under(g, b, 0.0, level_below) - level_over_top(g, flow, level_below)
    bracket = roots.start(0.0, low, flow, high)
    while roots.is_open(bracket, 1e-12 * flow) and abs(bracket.f1) > 1e-9:
        x = roots.propose(bracket)
        gap = _level_under(g, b, x, level_below) - level_over_top(g, flow - x, level_below)
        bracket = roots.narrow(bracket, x, gap)
    return roots.best(bracket)


@kernel
def gate_state(g: Gate, flow: float, level_below: float, energy_below: float) -> GateState:
    """The whole state of a gate for a flow [m3/s] and levels of water and energy just below [m].

    `energy_below` is `level_below` again where the velocity there is not known: still water, which gives nothing back.
    The level never falls when the flow or the level below rises (the energy below being that of a channel, or equal to
    the level), nor when the gate closes or Cc falls. Each part of the flow counts its own share of the velocities.
    """
    if flow <= 0.0:
        level = max(level_below, g.sill) if g.opening > 0.0 else level_below
        return GateState(level, level, float(SHUT_GATE if g.opening <= 0.0 else LIP_CLEAR), 0.0, 0.0, 0.0, 0.0)
    if level_below == inf:
        return GateState(inf, inf, float(SHUT_GATE), 0.0, 0.0, 0.0, 0.0)
    b = water_below(g, flow, level_below, energy_below)
    under = _flow_under(g, b, flow, level_below)
    over = flow - under
    level = level_over_top(g, over, level_below) if over > 0.0 else _level_under(g, b, under, level_below)
    jet, regime, velocity = 0.0, SHUT_GATE, 0.0
    if g.opening > 0.0 and under > 0.0:
        _, jet, regime = depth_under(g, b, under)
        velocity = under / (g.width * jet)
    approach = flow / (g.approach_width * (level - g.bed)) if level < inf else 0.0
    energy = level + approach * approach / (2.0 * GRAVITY)
    return GateState(level, energy, float(regime), under, over, jet, velocity)


class GateRow(NamedTuple):
    """What a gate takes of one sample."""

    gate: Gate
    flow: float
    tailwater: float
    energy: float


GATE = size(Gate)


@kernel
def gate_states(inputs: Table, results: Table) -> None:
    """Everything in `GateState`, for a `GateRow`."""
    for i in range(inputs.shape[1]):
        flow, level, energy = take(inputs[:, i], GATE, 3)
        put(results, i, gate_state(Gate(*take(inputs[:, i], 0, GATE)), flow, level, energy))
