"""Where the bridge methods disagree, and by how much: afflux by each over a grid of opening ratio and Froude number."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt

from generate.markdown import row, table
from overbank.constants import GRAVITY
from overbank.hydraulics import afflux, bridge_methods, bridges
from overbank.hydraulics.sections import arch, area, box, rectangle

OPENINGS = (0.9, 0.8, 0.7, 0.6, 0.5)
FROUDE = (0.1, 0.2, 0.3, 0.4, 0.5)
WIDTH = 10.0
"""Width of the channel. The depth downstream is 1: all methods scale."""

FILLED = 0.8
"""Depth downstream over the rise of a semicircular arch."""

CONTRACTION, EXPANSION = 0.3, 0.5
ROUND, SQUARE = 0.9, 1.25
"""Yarnell's K of semicircular and of square ends (Novak et al., Hydraulic Structures, 4th ed., p. 437)."""
ROUND_DRAG = 1.33
"""Drag coefficient of semicircular ends (from memory, unverified)."""
SLIGHT = 0.95
"""d'Aubuisson's coefficient, within what is remembered for piers (from memory, unverified)."""

YARNELL_ROUND, YARNELL_SQUARE, DRAG = "Yarnell, round", "Yarnell, square", "momentum with drag, round"
DAUBUISSON, CONTRACTED, ARCHES = "d'Aubuisson, 0.95", "HDS-1, K of Borda", "Biery and Delleur"

BANDS = {
    YARNELL_ROUND: (1.1, 3.3),
    YARNELL_SQUARE: (0.65, 1.2),
    DRAG: (1.4, 4.9),
    DAUBUISSON: (0.5, 1.0),
    CONTRACTED: (1.2, 8.5),
    ARCHES: (0.25, 1.05),
}
"""Afflux by the balance of energy over that by each other method, wherever the openings are neither choked nor full."""

FREE, CHOKED, FULL = "", "choked", "full"


@dataclass(frozen=True)
class Compared:
    """Afflux over the depth downstream, by the balance of energy and by other methods.

    state : of the openings by the balance of energy
    limit : the least opening ratio that does not choke, by momentum
    """

    opening: float
    froude: float
    energy: float
    state: str
    limit: float
    others: dict[str, float]

    def ratios(self) -> dict[str, float]:
        """The balance of energy over each other method."""
        return {name: self.energy / other for name, other in self.others.items()}


def flow_of(froude: float) -> float:
    return froude * sqrt(GRAVITY) * WIDTH


def bridge(openings: bridges.Openings) -> bridges.Bridge:
    """Openings in a rectangular channel, with the usual coefficients and no debris."""
    channel = rectangle(WIDTH, 0.03)
    groups = bridges.side_by_side(bridges.cleared(openings, 0.0, 0.0))
    return bridges.Bridge(groups, channel, 0.0, CONTRACTION, EXPANSION, 0.5, 0.8, 1.0)


def compared(opening: float, froude: float, openings: bridges.Openings, others: dict[str, float]) -> Compared:
    no_deck = bridges.Deck(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    found = bridges.bridged(bridge(openings), no_deck, flow_of(froude), 1.0)
    state = {bridges.FREE: FREE, bridges.CHOKED: CHOKED}.get(int(found.regime), FULL)
    return Compared(opening, froude, found.afflux, state, afflux.choking_limit(froude), others)


def piers(opening: float, froude: float) -> Compared:
    """Piers under a soffit out of reach, which leave the share `opening` of the width."""
    flow, pier, clear = flow_of(froude), WIDTH * (1.0 - opening), WIDTH * opening
    loss = bridge_methods.borda_loss(opening)
    others = {
        YARNELL_ROUND: afflux.yarnell_afflux(ROUND, flow, WIDTH, pier, 1.0),
        YARNELL_SQUARE: afflux.yarnell_afflux(SQUARE, flow, WIDTH, pier, 1.0),
        DRAG: afflux.drag_afflux(ROUND_DRAG, flow, WIDTH, pier, 1.0),
        DAUBUISSON: afflux.daubuisson_afflux(SLIGHT, flow, WIDTH, clear, 1.0),
        CONTRACTED: bridge_methods.contraction_backwater(loss, flow, clear, WIDTH, WIDTH, 1.0, 1.0, 1.0),
    }
    return compared(opening, froude, bridges.Openings(box(clear, 50.0, 0.03), 1.0, 1.0, 0.0), others)


def arches(opening: float, froude: float) -> Compared:
    """Semicircular arches springing from the bed, which leave the share `opening` of the area at the level below."""
    rise = 1.0 / FILLED
    section = arch(2.0 * rise, rise, 0.0, 0.03)
    number = opening * WIDTH / area(section, 1.0)
    others = {ARCHES: bridge_methods.biery_delleur(froude, opening)}
    return compared(opening, froude, bridges.Openings(section, number, 1.0, 0.0), others)


Kind = Callable[[float, float], Compared]


def grid(kind: Kind) -> list[Compared]:
    """Every opening ratio with every Froude number."""
    return [kind(opening, froude) for opening in OPENINGS for froude in FROUDE]


def page() -> str:
    """Both tables and the bands between the methods."""
    setting = (
        f"Afflux in per cent of the depth downstream, in a level rectangular channel {WIDTH:g} times as wide as deep, "
        f"by the balance of energy of this page (Cc {CONTRACTION:g}, Ce {EXPANSION:g}, factor 1) and by published "
        "methods. HDS-1 counts above normal level, which is the level downstream here, and takes the loss of Borda and "
        "Weisbach in place of its charts."
    )
    parts = [setting, "### Piers", _table(grid(piers)), "### Semicircular arches", _arch_words(), _table(grid(arches))]
    return "\n\n".join([*parts, "### How far apart", _band_words(), _bands()])


def _arch_words() -> str:
    return (
        f"Springing from the bed and filled to {FILLED:g} of their rise by the level below; the opening ratio is that "
        "of the areas there. Biery and Delleur's relation does not vanish with the contraction (0.47 Fr^2.26 is left)."
    )


def _table(found: list[Compared]) -> str:
    names = tuple(found[0].others)
    head = ("opening ratio", "Froude number", "energy", "openings", *names)
    return table(head, [_line(one) for one in found])


def _line(one: Compared) -> str:
    chokes = one.opening < one.limit
    state = one.state or ("choked by momentum" if chokes else "")
    others = (f"{100.0 * other:.2f}" for other in one.others.values())
    return row(f"{one.opening:g}", f"{one.froude:g}", f"{100.0 * one.energy:.2f}", state, *others)


def _band_words() -> str:
    return (
        "The balance of energy over each other method, where the openings are neither choked nor full. With the usual "
        "coefficients it stands near Yarnell's square piers; round ones are better described by smaller coefficients, "
        "or by an `afflux_factor` below 1. A drag force on the velocity upstream knows nothing of how the water speeds "
        "up between the piers, and falls behind as they close in."
    )


def extremes(name: str) -> tuple[float, float]:
    """Least and greatest ratio to another method."""
    rows = grid(arches if name == ARCHES else piers)
    ratios = [one.ratios()[name] for one in rows if one.state == FREE and one.opening >= one.limit]
    return min(ratios), max(ratios)


def _bands() -> str:
    lines = []
    for name, (low, high) in BANDS.items():
        least, most = extremes(name)
        lines.append(row(name, f"{least:.2f}", f"{most:.2f}", f"{low:g} to {high:g}"))
    return table(("energy over", "least", "greatest", "band that the tests hold"), lines)
