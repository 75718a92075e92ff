"""How our figures look: colours, type, sheets measured in inches.

No pyplot and no lasting global state: `drawing` puts the settings in force while a figure is made and takes them back.
The library keeps them for all threads, so that one thread draws at a time. Every label stays plain text: nothing in it
is read as mathematics or markup.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from threading import RLock
from typing import Any, ParamSpec

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.text import Text
from matplotlib.textpath import text_to_path

INK, SOFT, RULE, PAPER = "#1f2a33", "#5f6b76", "#d5dbe0", "#ffffff"
WATER, WATER_MID, WATER_PALE = "#17648f", "#8fbdd6", "#d3e5ef"
DEBRIS, DEBRIS_PALE = "#b4530d", "#f3d8bd"
PLUM, PLUM_PALE = "#7a3d86", "#e6d6ea"
EARTH, EARTH_PALE = "#7d6236", "#ece2cf"
STONE, STONE_PALE = "#6d7780", "#e1e5e8"

COLOURS = {
    "ink": (INK, "#e4e8eb"),
    "soft": (SOFT, "#9fabb5"),
    "rule": (RULE, "#36424c"),
    "paper": (PAPER, "#172027"),
    "water": (WATER, "#6fbbe3"),
    "water-mid": (WATER_MID, "#32678a"),
    "water-pale": (WATER_PALE, "#1f3f54"),
    "debris": (DEBRIS, "#f0a35f"),
    "debris-pale": (DEBRIS_PALE, "#573a1e"),
    "plum": (PLUM, "#cfa0d8"),
    "plum-pale": (PLUM_PALE, "#47304d"),
    "earth": (EARTH, "#cdb182"),
    "earth-pale": (EARTH_PALE, "#3a3225"),
    "stone": (STONE, "#98a4ae"),
    "stone-pale": (STONE_PALE, "#2b363f"),
}
"""Name -> the colour on light paper and the one on dark paper."""

WIDTH = 6.8
"""Width of every figure [in]."""

SIZE, SMALL = 9.0, 8.0
"""Type sizes [pt]."""

P = ParamSpec("P")

DOTS = 160
"""Dots per inch of a PNG."""

SETTINGS: dict[str, Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": SIZE,
    "text.color": INK,
    "text.parse_math": False,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "legend.frameon": False,
    "legend.fontsize": SMALL,
    "figure.facecolor": PAPER,
    "axes.facecolor": PAPER,
    "path.simplify": True,
    "svg.fonttype": "none",
    "svg.hashsalt": "overbank",
}


ALONE = RLock()
"""Held by the one thread that draws: settings and type faces of the library belong to all threads."""

NO_GLYPH = "Glyph .* missing from"
"""What the library warns of where a type face lacks a character: the PNG shows a box, the SVG has the text itself."""


@contextmanager
def drawing() -> Iterator[None]:
    """Our settings in force, whatever the user's own are, in this thread alone; taken back at the end."""
    with ALONE, warnings.catch_warnings(), matplotlib.rc_context():
        warnings.filterwarnings("ignore", NO_GLYPH)
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(SETTINGS)  # type: ignore[arg-type]
        yield


def drawn(draw: Callable[P, Figure]) -> Callable[P, Figure]:
    """The function, drawing with our settings; every text of its figure is plain text."""

    @wraps(draw)
    def wrapped(*args: P.args, **kwargs: P.kwargs) -> Figure:
        with drawing():
            figure = draw(*args, **kwargs)
            for text in figure.findobj(Text):
                text.set_parse_math(False)
            return figure

    return wrapped


def sheet(height: float) -> Figure:
    """An empty figure of our width and this height [in]."""
    figure = Figure(figsize=(WIDTH, height))
    FigureCanvasAgg(figure)
    return figure


def axes_at(figure: Figure, left: float, bottom: float, width: float, height: float) -> Axes:
    """Axes at a place on the sheet [in], with quiet ticks."""
    across, up = figure.get_size_inches()
    axes = figure.add_axes((left / across, bottom / up, width / across, height / up))
    axes.tick_params(labelsize=SIZE, length=3.0, width=0.7, pad=3.0, colors=SOFT, labelcolor=INK)
    axes.set_axisbelow(True)
    return axes


def write(figure: Figure, left: float, bottom: float, words: str, **look: Any) -> Text:
    """Words at a place on the sheet [in]."""
    across, up = figure.get_size_inches()
    return figure.text(left / across, bottom / up, words, **look)


def text_width(words: str, size: float) -> float:
    """Width of a line of text [in]."""
    with ALONE, warnings.catch_warnings():
        warnings.filterwarnings("ignore", NO_GLYPH)
        width, _, _ = text_to_path.get_text_width_height_descent(
            words, FontProperties(family="DejaVu Sans", size=size), ismath=False
        )
    return float(width) / 72.0


def shortened(words: str, room: float, size: float) -> str:
    """The words, cut with an ellipsis where they do not fit the room [in]."""
    if text_width(words, size) <= room:
        return words
    while words and text_width(words + "…", size) > room:
        words = words[:-1]
    return words.rstrip() + "…"


def percent(share: float, _place: object = None) -> str:
    """A tick label: a share as per cent."""
    return f"{100.0 * share:.6g} %"
