"""Labelled uprights that stand on a plot like flags on poles, none in the way of another; and the key below it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from overbank.report.style import RULE, SMALL, WIDTH, percent, text_width

ROW = 0.185
"""Height of a row of flags [in]."""

GAP = 0.05
"""Between a pole and its flag, and between two flags [in]."""


NO_PLACE = 9
"""Row of flags for which there is no arrangement."""


class Flag(NamedTuple):
    """A value on the horizontal axis with its words."""

    at: float
    words: str
    colour: str
    line: str = "-"


class Flown(NamedTuple):
    """Where a flag flies: its pole [in from the left of the axes], row from below, to the left or to the right."""

    flag: Flag
    pole: float
    row: int
    leftwards: bool


def flown(flags: Sequence[Flag], limits: tuple[float, float], width: float, spare: float) -> list[Flown]:
    """Rows and directions for the flags: no flag covers another or is crossed by a pole; as few rows as can be.

    limits : of the horizontal axis; width : of the axes [in]; spare : room to the right of them [in]
    """
    scale = width / (limits[1] - limits[0])
    poles = [(flag.at - limits[0]) * scale for flag in flags]
    lengths = [text_width(flag.words, SMALL) + 2 * GAP for flag in flags]
    choices = []
    for leftwards in product((False, True), repeat=len(flags)):
        spans = [
            (pole - length, pole) if left else (pole, pole + length)
            for pole, length, left in zip(poles, lengths, leftwards, strict=True)
        ]
        outside = sum(max(0.0, -low) + max(0.0, high - width - spare) for low, high in spans)
        rows = _rows(poles, spans)
        highest = max(rows, default=0)
        choices.append((highest == NO_PLACE, outside, highest, sum(leftwards), rows, leftwards))
    *_, rows, leftwards = min(choices)
    return [Flown(*each) for each in zip(flags, poles, rows, leftwards, strict=True)]


def _rows(poles: list[float], spans: list[tuple[float, float]]) -> list[int]:
    """The lowest rows in which no flag meets another and no pole crosses a lower flag."""
    rows = [0] * len(poles)
    pairs = [(i, j) for i in range(len(poles)) for j in range(len(poles)) if i != j]
    holds = {(i, j): spans[i][0] < poles[j] < spans[i][1] for i, j in pairs}
    for _ in range(len(pairs) + 1):
        settled = True
        for i, j in pairs:
            overlap = spans[i][0] < spans[j][1] and spans[j][0] < spans[i][1]
            tie = overlap and rows[i] == rows[j] and i > j and not holds[j, i]
            if (holds[i, j] and rows[j] >= rows[i]) or tie:
                rows[i] += 1
                settled = False
        if settled:
            return rows
    return [NO_PLACE] * len(poles)


def flag_height(placed: Sequence[Flown]) -> float:
    """Room that the flags take above the axes [in]."""
    return ROW * (1 + max((each.row for each in placed), default=-1)) + 0.04


def draw_flags(axes: Axes, placed: Sequence[Flown], foot: float = 0.0) -> None:
    """The flags above the axes; their poles begin at `foot`, a share of the height of the axes."""
    width, height = _size(axes)
    for flag, pole, row, leftwards in placed:
        top = 1.0 + (ROW * row + 0.13) / height
        axes.plot(
            [pole / width] * 2,
            [foot, top],
            color=flag.colour,
            linestyle=flag.line,
            linewidth=1.0,
            transform=axes.transAxes,
            clip_on=False,
            zorder=1.5,
        )
        axes.text(
            (pole + (-GAP if leftwards else GAP)) / width,
            1.0 + (ROW * row + 0.03) / height,
            flag.words,
            color=flag.colour,
            fontsize=SMALL,
            ha="right" if leftwards else "left",
            va="baseline",
            transform=axes.transAxes,
        )


def _size(axes: Axes) -> tuple[float, float]:
    figure = axes.get_figure()
    assert isinstance(figure, Figure)
    box, (across, up) = axes.get_position(), figure.get_size_inches()
    return float(box.width * across), float(box.height * up)


def small_scale(axes: Axes, *, of_levels: bool) -> None:
    """The vertical axis of a small panel: a few levels or percentages, with light lines across."""
    axes.yaxis.set_major_locator(MaxNLocator(4))
    if of_levels:
        axes.ticklabel_format(axis="y", useOffset=False)
    else:
        axes.yaxis.set_major_formatter(FuncFormatter(percent))
    axes.tick_params(labelsize=SMALL)
    axes.grid(axis="y", color=RULE, linewidth=0.6)


def key_at_foot(figure: Figure, handles: Sequence[Artist], columns: int, handle_length: float = 2.2) -> None:
    """The key at the foot of the sheet."""
    figure.legend(
        handles=handles,
        loc="lower left",
        bbox_to_anchor=(0.12 / WIDTH, 0.1 / figure.get_size_inches()[1]),
        ncols=columns,
        borderpad=0.0,
        borderaxespad=0.0,
        columnspacing=2.0,
        handlelength=handle_length,
    )


def key_below(axes: Axes, handles: Sequence[Artist], columns: int, drop: float) -> None:
    """The key to lines and bands, below the axes by `drop` [in]."""
    _, height = _size(axes)
    legend = axes.legend(
        handles=handles,
        loc="upper left",
        bbox_to_anchor=(0.0, -drop / height),
        ncols=columns,
        borderpad=0.0,
        borderaxespad=0.0,
        columnspacing=2.0,
        handlelength=2.2,
        labelspacing=0.45,
    )
    legend.set_zorder(5)
