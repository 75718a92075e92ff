"""The same quantity from the reference library fluids, for the rows of libraries.csv."""

from __future__ import annotations

from collections.abc import Callable
from math import hypot

from fluids.filters import square_edge_grill, square_edge_screen
from fluids.open_flow import V_Manning

from .registry import Inputs


def manning_trapezoid(i: Inputs) -> float:
    """Flow of a trapezoid (or, side slope 0, a rectangle), its geometry written out here."""
    width, side, depth = i["bed_width"], i["side_slope"], i["depth"]
    area = (width + side * depth) * depth
    perimeter = width + 2.0 * depth * hypot(1.0, side)
    return float(area * V_Manning(Rh=area / perimeter, S=i["slope"], n=i["manning_n"]))


LIBRARY: dict[str, Callable[[Inputs], float]] = {
    "square_edge_screen": lambda i: float(square_edge_screen(next(iter(i.values())))),
    "square_edge_grill": lambda i: float(square_edge_grill(next(iter(i.values())))),
    "manning_trapezoid": manning_trapezoid,
}
"""What the column `library` means."""
