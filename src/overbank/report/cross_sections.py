"""Drawing the site across the flow: a plan of the row, and below it a section of each element."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Polygon
from matplotlib.ticker import MaxNLocator

from overbank.outputs.outcome import Outcome
from overbank.report.marks import key_at_foot
from overbank.report.placed import Placed, placed_of
from overbank.report.plan import PLAN, draw_plan
from overbank.report.style import (
    EARTH,
    EARTH_PALE,
    INK,
    PAPER,
    RULE,
    SMALL,
    SOFT,
    STONE,
    STONE_PALE,
    WATER,
    WATER_PALE,
    WIDTH,
    axes_at,
    drawn,
    sheet,
    shortened,
    write,
)
from overbank.site.cross_section import Line, extent

MOST = 8
"""Sections on one sheet; those with a bank come first."""

LEFT, GAP, EACH, ROW = 0.52, 0.62, 1.15, 1.85
"""Margin, gap between two sections, height of one and of its row [in]."""

COLUMNS, KEY = 4, 0.2
"""Of the key, and the height of a line of it [in]."""

THIN = 0.12
"""Of what lies over an opening without a road: a share of its height."""


@drawn
def cross_sections(outcome: Outcome) -> Figure:
    """The plan and the sections, with the levels of the samples."""
    return _draw(placed_of(outcome))


@drawn
def cross_sections_of(every: tuple[Placed, ...]) -> Figure:
    """The same of any elements."""
    return _draw(every)


def shown(every: tuple[Placed, ...]) -> tuple[Placed, ...]:
    """Those that have a section on the sheet, going upstream."""
    chosen = sorted(range(len(every)), key=lambda index: (not math.isfinite(every[index].bank), index))[:MOST]
    return tuple(every[index] for index in sorted(chosen))


def _draw(every: tuple[Placed, ...]) -> Figure:
    sections = shown(every)
    rows, handles = math.ceil(len(sections) / 2), _key(sections)
    foot = 0.2 + KEY * math.ceil(len(handles) / COLUMNS)
    height = foot + rows * ROW + PLAN
    figure = sheet(height)
    draw_plan(figure, every, LEFT, height)
    width = 0.5 * (WIDTH - LEFT - GAP - 0.15)
    for index, each in enumerate(sections):
        left, bottom = LEFT + (index % 2) * (width + GAP), foot + (rows - 1 - index // 2) * ROW + 0.25
        _section(axes_at(figure, left, bottom, width, EACH), each)
        for up, words, colour in ((0.26, _title(each), INK), (0.1, level_words(each), SOFT)):
            said = shortened(words, width + 0.1, SMALL)
            write(figure, left, bottom + EACH + up, said, color=colour, fontsize=SMALL)
    if len(sections) < len(every):
        words = f"{len(sections)} of {len(every)} elements, for want of room"
        write(figure, WIDTH - 0.15, foot - 0.1, words, color=SOFT, fontsize=SMALL, ha="right")
    key_at_foot(figure, handles, COLUMNS)
    return figure


def _title(each: Placed) -> str:
    return f"{each.outline.id}: {each.outline.kind}, {each.section.where}"


def level_words(each: Placed) -> str:
    """Water and bank in words."""
    words = [f"water {each.level:.2f} m" if math.isfinite(each.level) else "no way through"]
    if each.band is not None and all(map(math.isfinite, each.band)):
        words.append(f"5 to 95 % {each.band[0]:.2f} to {each.band[1]:.2f} m")
    if math.isfinite(each.bank):
        words.append(f"bank {each.bank:.2f} m")
    return ", ".join(words)


def _section(axes: Axes, each: Placed) -> None:
    left, right = extent(_lines(each))
    margin = 0.06 * max(right - left, 1e-3)
    axes.set_xlim(left - margin, right + margin)
    low, high = _heights(each)
    axes.set_ylim(low, high)
    axes.xaxis.set_major_locator(MaxNLocator(5))
    axes.yaxis.set_major_locator(MaxNLocator(4))
    axes.ticklabel_format(useOffset=False)
    axes.grid(axis="y", color=RULE, linewidth=0.5)
    _draw_wall(axes, each, (left, right))
    _draw_ground(axes, each, low)
    _draw_water(axes, each, (left - margin, right + margin))


def _lines(each: Placed) -> Iterator[Line]:
    """Every line of the section."""
    section = each.section
    yield from (section.ground, *section.openings, *(crest.line for crest in section.crests), section.screen)


def _heights(each: Placed) -> tuple[float, float]:
    """Lowest and highest level of the picture [m]."""
    levels = [level for line in _lines(each) for _, level in line]
    levels += [level for level in (each.level, each.bank, *(each.band or ())) if math.isfinite(level)]
    low, high = min(levels), max(levels)
    span = max(high - low, 0.01)
    return low - 0.16 * span, high + 0.08 * span


def _draw_wall(axes: Axes, each: Placed, ends: tuple[float, float]) -> None:
    """What openings go through, what water can pass over, and the bars."""
    section = each.section
    crests = [level for crest in section.crests for _, level in crest.line]
    for opening in section.openings:
        low, high = min(level for _, level in opening), max(level for _, level in opening)
        top = max(min(crests, default=high + THIN * (high - low)), high)
        under = [((ends[0], top), (ends[1], top)), *(crest.line for crest in section.crests)]
        for line in under:
            wall = (*line, (line[-1][0], low), (line[0][0], low))
            axes.add_patch(Polygon(wall, facecolor=STONE_PALE, edgecolor="none", zorder=1.3))
    for opening in section.openings:
        axes.add_patch(Polygon(opening, facecolor=PAPER, edgecolor="none", zorder=1.5))
        axes.add_patch(Polygon(opening, facecolor="none", edgecolor=STONE, linewidth=1.2, zorder=2.6))
    for crest in section.crests:
        axes.plot(*zip(*crest.line, strict=True), color=STONE, linewidth=2.2, zorder=3.0)
    if section.screen:
        look: dict[str, Any] = {"linewidth": 1.4, "linestyle": (0, (1.4, 0.7))}
        axes.add_patch(Polygon(section.screen, facecolor="none", edgecolor=INK, zorder=3.2, **look))


def _draw_ground(axes: Axes, each: Placed, floor: float) -> None:
    """Bed and sides, and the roughness of each zone below them."""
    ground = each.section.ground
    if not ground:
        return
    below = (*ground, (ground[-1][0], floor), (ground[0][0], floor))
    axes.add_patch(Polygon(below, facecolor=EARTH_PALE, edgecolor="none", zorder=1.6))
    axes.plot(*zip(*ground, strict=True), color=EARTH, linewidth=1.4, zorder=2.5)
    for zone in each.section.zones:
        look: dict[str, Any] = {"color": EARTH, "fontsize": SMALL - 1.0, "ha": "center", "va": "bottom", "zorder": 3.0}
        axes.text(0.5 * (zone.left + zone.right), floor, f"n {zone.manning_n:.3g}", **look)
        if zone.left > ground[0][0]:
            axes.plot([zone.left] * 2, axes.get_ylim(), color=EARTH, linewidth=0.8, linestyle=(0, (1, 2)), zorder=2.4)


def _draw_water(axes: Axes, each: Placed, ends: tuple[float, float]) -> None:
    """The level at the medians over the ground or across all, those of the samples, and the bank."""
    top = axes.get_ylim()[1]
    level = min(each.level, top)
    for left, right in each.section.wet(level):
        corners = ((left, axes.get_ylim()[0]), (right, axes.get_ylim()[0]), (right, level), (left, level))
        axes.add_patch(Polygon(corners, facecolor=WATER_PALE, edgecolor="none", zorder=1.1))
    for at, look in _water_lines(each):
        for stretch in each.section.wet(min(at, top)) or (ends,):
            axes.plot(stretch, [min(at, top)] * 2, color=WATER, zorder=2.8, **look)
    if math.isfinite(each.bank):
        axes.plot(ends, [each.bank] * 2, color=EARTH, linewidth=0.9, linestyle=(0, (5, 3)), zorder=2.7)


def _water_lines(each: Placed) -> Iterator[tuple[float, dict[str, Any]]]:
    if not math.isnan(each.level):
        yield each.level, {"linewidth": 1.8}
    for at in each.band or ():
        if not math.isnan(at):
            yield at, {"linewidth": 0.9, "linestyle": (0, (2, 1.5))}


def _key(sections: tuple[Placed, ...]) -> list[Artist]:
    handles: list[Artist] = [Line2D([], [], color=WATER, linewidth=1.8, label="water at the medians")]
    if any(each.band for each in sections):
        look: dict[str, Any] = {"linewidth": 0.9, "linestyle": (0, (2, 1.5))}
        handles.append(Line2D([], [], color=WATER, label="5 and 95 %", **look))
    if any(math.isfinite(each.bank) for each in sections):
        handles.append(Line2D([], [], color=EARTH, linewidth=0.9, linestyle=(0, (5, 3)), label="bank"))
    if any(each.section.ground for each in sections):
        handles.append(Line2D([], [], color=EARTH, linewidth=1.4, label="ground; n: roughness"))
    for words in dict.fromkeys(crest.words for each in sections for crest in each.section.crests):
        handles.append(Line2D([], [], color=STONE, linewidth=2.2, label=words))
    if any(each.section.openings for each in sections):
        handles.append(Patch(facecolor=PAPER, edgecolor=STONE, label="opening"))
    if any(each.section.screen for each in sections):
        handles.append(Line2D([], [], color=INK, linewidth=1.4, linestyle=(0, (1.4, 0.7)), label="screen"))
    return handles
