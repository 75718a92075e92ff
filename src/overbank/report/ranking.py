"""What drives the level and the overtopping: Sobol' indices with their intervals, ranked."""

from __future__ import annotations

from textwrap import wrap
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter

from overbank.analysis.sensitivity import DUMMY, Indices
from overbank.outputs.outcome import Outcome
from overbank.report.marks import key_at_foot
from overbank.report.names import plain_name
from overbank.report.readings import index_of
from overbank.report.style import (
    DEBRIS,
    INK,
    PAPER,
    RULE,
    SIZE,
    SMALL,
    SOFT,
    WATER,
    WIDTH,
    axes_at,
    drawn,
    percent,
    sheet,
    shortened,
    write,
)

NAMES, GAP, RIGHT = 2.3, 0.3, 0.2
"""Room for the names, between the two panels, and to their right [in]."""

ROW = 0.335
"""Height of an input's row [in]."""

MOST = 14
"""Inputs drawn; the table holds them all."""

IDLE = 1e-9
"""An input whose total index is no larger does not act at all."""


def acting(outcome: Outcome) -> tuple[list[str], list[str]]:
    """Names of the inputs that act on level or overtopping, strongest first; and of those that do not."""
    tables = [part.table for part in (outcome.drivers.level, outcome.drivers.overtopping) if part is not None]
    if not tables:
        return [], list(outcome.problem.inputs.names)
    totals = pd.concat([table.set_index("input")["total"] for table in tables], axis=1).drop(index=DUMMY)
    strength = totals.abs().max(axis=1).sort_values(ascending=False, kind="stable")
    names = [str(name) for name in strength.index]
    return [name for name in names if strength[name] > IDLE], [name for name in names if strength[name] <= IDLE]


def noise_floor(indices: Indices) -> float:
    """The largest index that sampling noise gives an input that does nothing, within 95 %."""
    ends = indices.table.set_index("input").loc[DUMMY, ["first_low", "first_high", "total_low", "total_high"]]
    return float(np.abs(ends.to_numpy(dtype=np.float64)).max())


@drawn
def drivers(outcome: Outcome) -> Figure:
    """First-order and total index of each input, for the level and for the event of overtopping."""
    names = acting(outcome)[0][:MOST]
    found = (outcome.drivers.level, outcome.drivers.overtopping)
    rows = max(len(names), 3)
    bottom, above = 0.88, 0.32
    figure = sheet(bottom + rows * ROW + above)
    width = (WIDTH - NAMES - GAP - RIGHT) / 2.0
    titles = ("drives the level", "drives the overtopping")
    panels = []
    for place, (indices, title) in enumerate(zip(found, titles, strict=True)):
        axes = axes_at(figure, NAMES + place * (width + GAP), bottom, width, rows * ROW)
        axes.set_title(title, loc="left", fontsize=SIZE, color=INK, pad=7.0)
        axes.set_ylim(rows - 0.5, -0.5)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        _scale(axes, indices)
        axes.hlines(np.arange(rows - 1) + 0.5, *axes.get_xlim(), color=RULE, linewidth=0.5, zorder=0.5)
        if indices is None:
            _no_indices(axes)
        else:
            _rank(axes, indices, names)
        panels.append(axes)
    panels[0].set_xlabel("share of the variance", fontsize=SIZE, labelpad=4.0, loc="left")
    label_rows(figure, names, bottom + rows * ROW)
    _key(figure)
    return figure


def _scale(axes: Axes, indices: Indices | None) -> None:
    highest = 1.0 if indices is None else max(1.0, float(indices.table["total_high"].max()))
    axes.set_xlim(-0.06, min(highest, 1.5) + 0.05)
    axes.set_xticks([0.0, 0.25, 0.5, 0.75, 1.0])
    axes.xaxis.set_major_formatter(FuncFormatter(lambda x, _: percent(x) if x in (0.0, 0.5, 1.0) else ""))
    axes.grid(axis="x", color=RULE, linewidth=0.6)


def _rank(axes: Axes, indices: Indices, names: list[str]) -> None:
    floor = noise_floor(indices)
    axes.axvspan(-floor, floor, color=RULE, linewidth=0.0, zorder=1.0)
    for row, name in enumerate(names):
        for kind, offset, colour, mark, fill in (
            ("first", -0.16, WATER, "o", WATER),
            ("total", 0.16, DEBRIS, "D", PAPER),
        ):
            found, at = index_of(indices, name, kind), row + offset
            axes.plot([found.low, found.high], [at, at], color=colour, linewidth=2.4, solid_capstyle="butt", zorder=3.0)
            look: dict[str, Any] = {"markerfacecolor": fill, "markersize": 4.4, "markeredgewidth": 1.1}
            axes.plot(found.value, at, mark, color=colour, zorder=4.0, **look)


def _no_indices(axes: Axes) -> None:
    words = wrap("No indices could be found; the notes say why.", 26)
    for line, part in enumerate(words):
        axes.text(0.0, 0.1 + 0.5 * line, part, color=SOFT, fontsize=SMALL, va="center")


def label_rows(figure: Figure, names: list[str], top: float) -> None:
    """Each input in plain words with its unit, its dotted path below it."""
    for row, name in enumerate(names):
        middle = top - (row + 0.5) * ROW
        room = NAMES - 0.25
        known = plain_name(name)
        look: dict[str, Any] = {"ha": "right", "va": "baseline"}
        write(figure, NAMES - 0.12, middle + 0.015, shortened(known.with_unit, room, SIZE), fontsize=SIZE, **look)
        write(figure, NAMES - 0.12, middle - 0.125, shortened(name, room, 7.0), fontsize=7.0, color=SOFT, **look)


def _key(figure: Figure) -> None:
    thick: dict[str, Any] = {"linewidth": 2.6, "markersize": 4.8}
    hollow: dict[str, Any] = {"marker": "D", "markerfacecolor": PAPER}
    handles: list[Artist] = [
        Line2D([], [], color=WATER, marker="o", label="by itself (first-order index)", **thick),
        Line2D([], [], color=DEBRIS, label="with its joint effects (total index)", **hollow, **thick),
        Patch(color=RULE, label="noise floor"),
    ]
    key_at_foot(figure, handles, 3)
