"""The plan of a row: channels, barrels and what stands across them, straightened."""

from __future__ import annotations

import math
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from overbank.report.placed import Placed
from overbank.report.style import (
    EARTH,
    INK,
    PAPER,
    SMALL,
    SOFT,
    STONE,
    STONE_PALE,
    WATER,
    WATER_PALE,
    WIDTH,
    axes_at,
    shortened,
    write,
)
from overbank.site.cross_section import extent

PLAN, HIGH, FOOT = 1.8, 1.0, 0.4
"""What the plan takes of the sheet, its own height, and the room below it [in]."""

BEYOND = 0.05
"""How far the plan goes on at both ends: a share of its length."""


def draw_plan(figure: Figure, every: tuple[Placed, ...], left: float, top: float) -> None:
    """The plan at the top of a sheet."""
    width = WIDTH - left - 0.15
    axes = axes_at(figure, left, top - PLAN + FOOT, width, HIGH)
    half = max(0.5 * (right - low) for low, right in map(_sides, every))
    leans = [half * abs(_lean(each)) for each in (every[0], every[-1])]
    length = every[-1].outline.end
    ends = -max(BEYOND * length, leans[0]), length + max(BEYOND * length, leans[1])
    axes.set_xlim(*ends)
    axes.set_ylim(-1.15 * half, 1.15 * half)
    for each in every:
        _draw(axes, each)
    scale = (HIGH / (2.3 * half)) / (width / (ends[1] - ends[0]))
    write(figure, left, top - 0.2, "plan, drawn straight [m]", color=INK, fontsize=SMALL)
    words = f"widths drawn {scale:.2g} times as large as lengths"
    write(figure, WIDTH - 0.15, top - 0.2, words, color=SOFT, fontsize=SMALL, ha="right")
    write(figure, left, top - PLAN + 0.07, "← flow", color=WATER, fontsize=SMALL)
    _name(axes, every, width / (ends[1] - ends[0]))


def _lean(each: Placed) -> float:
    """How far along the flow an oblique structure goes for each metre across."""
    return math.tan(math.radians(each.section.turned))


def _sides(each: Placed) -> tuple[float, float]:
    """Left and right side of all that an element has in plan, from its middle [m]."""
    wet, section = each.section.wet(each.level if math.isfinite(each.level) else math.inf), each.section
    own = extent((*section.openings, *(crest.line for crest in section.crests), section.screen))
    ends = [end for end in (*own, *(end for stretch in wet for end in stretch)) if math.isfinite(end)]
    return min(ends), max(ends)


def _draw(axes: Axes, each: Placed) -> None:
    """Channel or structure, the middle of its own section in the middle of the plan."""
    section, outline = each.section, each.outline
    low, high = _sides(each)
    middle = 0.5 * (low + high)
    if not (section.openings or section.crests):
        for left, right in section.wet(each.level if math.isfinite(each.level) else math.inf):
            _slab(axes, each, (left - middle, right - middle), WATER_PALE, WATER, 1.0)
        bed = min(level for _, level in section.ground)
        for left, right in section.wet(bed + 1e-3 * max(1.0, abs(each.level - bed))):
            for side in (left - middle, right - middle):
                axes.plot([outline.start, outline.end], [side] * 2, color=EARTH, linewidth=0.8, zorder=1.5)
        return
    across = section.wet(each.level if math.isfinite(each.level) else math.inf)
    ends = (across[0][0], across[-1][1]) if across and not section.openings else (low, high)
    _slab(axes, each, (ends[0] - middle, ends[1] - middle), STONE_PALE, STONE, 1.2)
    for opening in section.openings:
        left, right = extent((opening,))
        _slab(axes, each, (left - middle, right - middle), PAPER, STONE, 1.4)
    if section.screen:
        left, right = extent((section.screen,))
        line: dict[str, Any] = {"color": INK, "linewidth": 2.0, "linestyle": (0, (1.4, 0.7)), "zorder": 2.0}
        axes.plot([outline.end] * 2, [left - middle, right - middle], **line)


def _slab(axes: Axes, each: Placed, sides: tuple[float, float], face: str, edge: str, order: float) -> None:
    """A stretch of the length of an element between two sides, as oblique as the element is."""
    lean, (low, high), outline = _lean(each), sides, each.outline
    corners = [
        (outline.start + lean * low, low),
        (outline.end + lean * low, low),
        (outline.end + lean * high, high),
        (outline.start + lean * high, high),
    ]
    axes.add_patch(Polygon(corners, facecolor=face, edgecolor=edge, linewidth=0.8, zorder=order))


def _name(axes: Axes, every: tuple[Placed, ...], scale: float) -> None:
    """Names below the elements, as far as there is room."""
    last = -math.inf
    for each in every:
        at = 0.5 * (each.outline.start + each.outline.end)
        words = shortened(each.outline.id, 1.0, SMALL)
        room = 0.075 * len(words)
        if (at - last) * scale >= room:
            axes.annotate(
                words,
                (at, 1.0),
                (0, 1),
                xycoords=("data", "axes fraction"),
                textcoords="offset points",
                ha="center",
                va="bottom",
                fontsize=SMALL,
                color=SOFT,
            )
            last = at + 0.5 * room / scale
