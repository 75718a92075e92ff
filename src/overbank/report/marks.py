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


SEARCHED = 6
"""Up to so many flags every arrangement is looked at; of more, one at a time is put where it does best."""

TRIED, ROWS = 24, 8
"""Of more flags, so many are tried, in so many rows; those without room are left out."""


class Flag(NamedTuple):
    """A value on the horizontal axis with its words; and fewer of them, for where these find no room."""

    at: float
    words: str
    colour: str
    line: str = "-"
    short: str = ""


class Flown(NamedTuple):
    """Where a flag flies: its pole [in from the left of the axes], row from below, to the left or to the right."""

    flag: Flag
    pole: float
    row: int
    leftwards: bool


Key = tuple[float, int, int]
"""What an arrangement costs: flags outside of the sheet [in], rows, flags to the left of their poles."""


class _Poles(NamedTuple):
    """Where the poles stand and how long the flags are [in]; width of the axes and room to the right of them [in]."""

    at: list[float]
    lengths: list[float]
    width: float
    spare: float

    def arranged(self, sides: dict[int, bool]) -> tuple[Key, list[int]] | None:
        """Cost and rows of some flags, each to the left of its pole or not; None where they cannot stand so."""
        at = [self.at[k] for k in sides]
        spans = [
            (self.at[k] - self.lengths[k], self.at[k]) if left else (self.at[k], self.at[k] + self.lengths[k])
            for k, left in sides.items()
        ]
        rows = _rows(at, spans)
        if rows is None:
            return None
        outside = sum(max(0.0, -low) + max(0.0, high - self.width - self.spare) for low, high in spans)
        return (outside, max(rows, default=0), sum(sides.values())), rows


def flown(flags: Sequence[Flag], limits: tuple[float, float], width: float, spare: float) -> list[Flown]:
    """Rows and directions for the flags: no flag covers another or is crossed by a pole; as few rows as can be.

    flags : where there are many, those first that matter most, for not all may find room
    limits : of the horizontal axis; width : of the axes [in]; spare : room to the right of them [in]
    """
    tried = list(flags if len(flags) <= SEARCHED else flags[:TRIED])
    known = [*tried, *(flag._replace(words=flag.short or flag.words) for flag in tried)]
    scale = width / (limits[1] - limits[0])
    lengths = [text_width(flag.words, SMALL) + 2 * GAP for flag in known]
    poles = _Poles([(flag.at - limits[0]) * scale for flag in known], lengths, width, spare)
    sides = _best(poles, len(tried)) if len(flags) <= SEARCHED else _one_at_a_time(poles, len(tried))
    arranged = poles.arranged(sides)
    assert arranged is not None
    return [Flown(known[k], poles.at[k], row, left) for (k, left), row in zip(sides.items(), arranged[1], strict=True)]


def _best(poles: _Poles, count: int) -> dict[int, bool]:
    """The best of all arrangements; with every flag to the right of its pole there always is one."""
    choices = []
    for leftwards in product((False, True), repeat=count):
        found = poles.arranged(dict(enumerate(leftwards)))
        if found is not None:
            choices.append((*found, leftwards))
    return dict(enumerate(min(choices)[-1]))


def _one_at_a_time(poles: _Poles, count: int) -> dict[int, bool]:
    """From both ends inwards, each flag on the better side, first with all its words and then with the short ones."""
    middle, sides = poles.width / 2.0, dict[int, bool]()
    inwards = sorted(range(count), key=lambda k: -abs(poles.at[k] - middle))
    for k in (*inwards, *(count + k for k in inwards)):
        found = {left: poles.arranged({**sides, k: left}) for left in (False, True) if k - count not in sides}
        choices = [(each[0], left) for left, each in found.items() if each and each[0][0] == 0.0 and each[0][1] < ROWS]
        if choices:
            sides[k] = min(choices)[1]
    return sides


def _rows(poles: list[float], spans: list[tuple[float, float]]) -> list[int] | None:
    """The lowest rows in which no flag meets another and no pole crosses a lower flag; None where there are none."""
    rows = [0] * len(poles)
    pairs = [(i, j) for i in range(len(poles)) for j in range(len(poles)) if i != j]
    holds = {(i, j): spans[i][0] < poles[j] < spans[i][1] for i, j in pairs}
    if any(held and holds[j, i] for (i, j), held in holds.items()):
        return None
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
    return None


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
