"""Are there enough samples? Each headline figure from ever more of them, beside the width that is wanted."""

from __future__ import annotations

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import NullLocator

from overbank.analysis.convergence import Convergence
from overbank.outputs.outcome import Outcome
from overbank.report.marks import key_at_foot, small_scale
from overbank.report.style import (
    DEBRIS,
    INK,
    SIZE,
    SOFT,
    WATER,
    WATER_PALE,
    WIDTH,
    axes_at,
    drawn,
    sheet,
)

LEFT, GAP, RIGHT, BOTTOM, HEIGHT, ABOVE = 0.66, 0.72, 0.15, 0.82, 1.55, 0.34
"""Room beside, between, below and above the panels, and their height [in]."""


def settles(settling: Convergence) -> bool:
    """Whether there is a finite figure to draw."""
    return bool(np.isfinite(settling.full.value))


@drawn
def convergence(outcome: Outcome) -> Figure:
    """A panel a headline figure: its value and 95 % interval against the number of samples."""
    found = {name: settling for name, settling in outcome.convergence.items() if settles(settling)}
    figure = sheet(BOTTOM + HEIGHT + ABOVE)
    count = max(len(found), 2)
    width = (WIDTH - LEFT - RIGHT - (count - 1) * GAP) / count
    for place, (name, settling) in enumerate(found.items()):
        axes = axes_at(figure, LEFT + place * (width + GAP), BOTTOM, width, HEIGHT)
        low, high = (-np.inf, np.inf) if settling.unit else (0.0, 1.0)
        full, wanted = settling.full.value, settling.wanted
        band = (max(full - wanted, low), min(full + wanted, high))
        axes.axhspan(*band, color=WATER_PALE, linewidth=0.0, zorder=1.0)
        _draw(axes, settling)
        axes.set_title(_title(name, settling), loc="left", fontsize=SIZE, color=INK, pad=7.0)
        small_scale(axes, of_levels=bool(settling.unit))
        if place == 0:
            axes.set_xlabel("samples", fontsize=SIZE, labelpad=3.0, loc="left")
    handles: list[Artist] = [
        Line2D([], [], color=WATER, marker="o", markersize=4.6, label="settled, with its 95 % interval"),
        Line2D([], [], color=DEBRIS, marker="D", markersize=4.6, label="not settled"),
        Patch(color=WATER_PALE, label="all samples, and the width wanted"),
    ]
    key_at_foot(figure, handles, 3)
    return figure


def _title(name: str, settling: Convergence) -> str:
    """The figure in a few words."""
    if settling.unit:
        return "level with assurance [m]"
    return name.removesuffix(" within the target")


def _draw(axes: Axes, settling: Convergence) -> None:
    """The way of one figure; ends that are not known are left out."""
    colour, mark = (WATER, "o") if settling.settled else (DEBRIS, "D")
    way = [(samples, each) for samples, each in settling.way if np.isfinite(each.value)]
    at = [samples for samples, _ in way]
    axes.axhline(settling.full.value, color=SOFT, linewidth=0.7, zorder=2.0)
    for samples, each in way:
        if np.isfinite([each.low, each.high]).all():
            axes.plot([samples, samples], [each.low, each.high], color=colour, linewidth=2.0, zorder=3.0)
    axes.plot(at, [each.value for _, each in way], color=colour, marker=mark, markersize=4.6, linewidth=0.0, zorder=4.0)
    axes.set_xscale("log", base=2)
    axes.set_xlim(at[0] / 1.5, at[-1] * 1.5)
    axes.set_xticks(at[-1::-2], [f"{samples:,}" for samples in at[-1::-2]])
    axes.xaxis.set_minor_locator(NullLocator())
