"""A barrel in parts solved a second time: SciPy's `solve_ivp` for the energy of each part, `brentq` at each joint.

Only the sections of `plain_crossing` are shared, which use nothing of the package.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
from plain_crossing import G, Tube
from scipy.integrate import solve_ivp
from scipy.optimize import brentq


@dataclass(frozen=True)
class Piece:
    """A part; fall of the bed, loss and joint ("", "manhole" or "chamber") at its upper end."""

    tube: Tube
    length: float
    slope: float
    drop: float = 0.0
    loss: float = 0.0
    joint: str = ""


def energy_at(tube: Tube, flow: float, y: float) -> float:
    return y + tube.head(flow, y)


def depth_of(tube: Tube, flow: float, energy: float, critical: float) -> float:
    """The deeper depth of an energy, or critical depth where there is none."""
    if energy <= energy_at(tube, flow, critical):
        return critical
    return brentq(lambda y: energy_at(tube, flow, y) - energy, critical, energy, xtol=1e-13)


def up_the_part(piece: Piece, flow: float, y: float) -> float:
    """Depth at the upper end: dE/dx = Sf - S going upstream, E never below that of critical flow."""
    tube = piece.tube
    critical = tube.critical(flow)
    least = energy_at(tube, flow, critical)
    start = energy_at(tube, flow, max(y, critical))
    if start <= least * (1 + 1e-12) and float(tube.friction(flow, critical)) <= piece.slope:
        return critical

    def rising(_x: float, energy: np.ndarray) -> list[float]:
        depth = depth_of(tube, flow, float(energy[0]), critical)
        return [float(tube.friction(flow, min(depth, tube.room))) - piece.slope]

    def ends(_x: float, energy: np.ndarray) -> float:
        return float(energy[0]) - least * (1 - 1e-9)

    ends.terminal = True  # type: ignore[attr-defined]
    done = solve_ivp(rising, (0, piece.length), [start], rtol=1e-9, atol=1e-9, events=ends, max_step=piece.length / 20)
    return depth_of(tube, flow, float(done.y[0, -1]), critical)


def over_the_joint(above: Tube, piece: Piece, flow: float, y: float) -> float:
    """Depth in the end of the part above for the depth in the head of a part."""
    tube, critical = piece.tube, piece.tube.critical(flow)
    energy = max(each + (1 + piece.loss) * tube.head(flow, each) for each in (y, critical))
    if piece.joint:
        full = float(tube.area(tube.room))
        intensity = flow / (full * sqrt(G * tube.room))
        energy = max(energy, tube.room * intensity**2, 1.6 * tube.room * intensity**0.67)
    energy -= piece.drop
    least = above.critical(flow)
    if piece.joint == "chamber":
        return max(energy, least)
    behind = flow / float(tube.area(y))

    def left(depth: float) -> float:
        slowed = max(flow / float(above.area(depth)) - behind, 0.0)
        return energy_at(above, flow, depth) - slowed**2 / (2 * G) - energy

    if left(least) >= 0:
        return least
    return brentq(left, least, energy + 1.0, xtol=1e-13)


def inlet_depth(pieces: list[Piece], flow: float, tailwater_depth: float) -> float:
    """Depth at the inlet end of a barrel, its parts going downstream; exit loss of a whole velocity head."""
    y = max(tailwater_depth, pieces[-1].tube.critical(flow))
    for upper, piece in zip(reversed(pieces[:-1]), reversed(pieces), strict=False):
        y = over_the_joint(upper.tube, piece, flow, up_the_part(piece, flow, y))
    return up_the_part(pieces[0], flow, y)
