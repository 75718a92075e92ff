"""Drawing the long section."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Polygon

from overbank.outputs.outcome import Outcome
from overbank.report.marks import SEARCHED, Flag, draw_flags, flag_height, flown, key_below
from overbank.report.section import Section, section_of
from overbank.report.style import (
    EARTH,
    EARTH_PALE,
    INK,
    RULE,
    SMALL,
    SOFT,
    STONE,
    STONE_PALE,
    WATER,
    WATER_MID,
    WATER_PALE,
    WIDTH,
    axes_at,
    drawn,
    sheet,
    shortened,
    write,
)
from overbank.site.long_section import Outline

LEFT, RIGHT, PLOT = 0.62, 0.2, 2.6
"""Margins and height of the plot [in]."""

SCALES = (0.1, 0.2, 0.5, 1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200, 300, 500, 1000)
"""Times that heights may be drawn larger than lengths."""

RELIEF: dict[str, Any] = {"linewidth": 1.2, "linestyle": (0, (3, 1.6))}
"""Relief barrels lie beside the main ones, behind or before the picture."""


@drawn
def long_section(outcome: Outcome) -> Figure:
    """Bed, barrels, road, banks and the water: at the medians, and median and bands of the samples."""
    return _draw(section_of(outcome))


@drawn
def long_section_at_medians(section: Section) -> Figure:
    """The same for one deterministic run, without bands."""
    return _draw(section)


def _draw(section: Section) -> Figure:
    limits, width = section.ends, WIDTH - LEFT - RIGHT
    placed = flown(_flags(section, width), limits, width, RIGHT)
    sampled = section.pieces[0].quantiles is not None
    bottom = 0.58 + 0.2 * (3 if sampled else 2)
    above = flag_height(placed)
    figure = sheet(bottom + PLOT + above + 0.36)
    axes = axes_at(figure, LEFT, bottom, width, PLOT)
    axes.set_xlim(*limits)
    floor, scale = _heights(section, width)
    axes.set_ylim(floor, floor + PLOT / width * (limits[1] - limits[0]) / scale)
    axes.set_xlabel("distance upstream of the lower end of the site [m]", labelpad=5.0)
    write(figure, LEFT, bottom - 0.34, "← flow", color=WATER)
    write(figure, 0.05, bottom + PLOT + above + 0.14, "level [m]", color=INK)
    words = _scale_words(scale) + _named_words(len(placed), len(section.extents))
    write(figure, WIDTH - RIGHT, bottom + PLOT + above + 0.14, words, color=SOFT, ha="right")
    axes.grid(axis="y", color=RULE, linewidth=0.6)
    _draw_ground(axes, section, floor)
    _draw_water(axes, section)
    _draw_banks(axes, section)
    for extent in section.extents:
        axes.axvline(extent.start, color=RULE, linewidth=0.8, zorder=0.6)
    draw_flags(axes, placed, foot=1.0)
    key_below(axes, _key(section, sampled), 3, 0.52)
    return figure


def _flags(section: Section, width: float) -> list[Flag]:
    """A flag an element; where there are many, shorter ones, and those of the elements with a bank first."""
    extents, room = list(section.extents), 0.75 * width
    if len(extents) > SEARCHED:
        ends, room = {bank.chainage for bank in section.banks}, 0.4 * width
        extents.sort(key=lambda extent: extent.end not in ends)
    return [
        Flag(
            extent.start, shortened(_label(section, extent), room, SMALL), INK, short=shortened(extent.id, room, SMALL)
        )
        for extent in extents
    ]


def _label(section: Section, extent: Outline) -> str:
    """An element's name with its levels."""
    levels = [f"bank {bank.level:.2f} m" for bank in section.banks if bank.chainage == extent.end]
    if math.isfinite(extent.road):
        levels.append(f"{extent.crest} {extent.road:.2f} m")
    return f"{extent.id}: {', '.join([extent.kind, *levels])}"


def _named_words(named: int, elements: int) -> str:
    """How many of the elements bear a name; nothing where all do."""
    return "" if named == elements else f"; {named} of {elements} elements named, for want of room"


def _scale_words(scale: float) -> str:
    if scale == 1:
        return "heights and lengths at one scale"
    return f"heights drawn {scale:g} times as large as lengths"


def _heights(section: Section, width: float) -> tuple[float, float]:
    """Lowest level of the picture [m], and times that heights are drawn larger than lengths."""
    levels = [section.bed[1], [bank.high for bank in section.banks]]
    for extent in section.extents:
        levels += [[extent.roof_start, extent.roof_end, extent.road]]
        levels.append([level for _, level in extent.relief])
        if extent.screen is not None:
            levels.append([extent.screen[1][1]])
    for piece in section.pieces:
        levels += [piece.certain, [] if piece.quantiles is None else piece.quantiles.ravel()]
    every = np.concatenate([np.asarray(level, dtype=np.float64) for level in levels])
    every = every[np.isfinite(every)]
    low, high = float(every.min()), float(every.max())
    span = max(high - low, 0.1)
    length = section.ends[1] - section.ends[0]
    fitting = [scale for scale in SCALES if PLOT / width * length / scale >= 1.22 * span]
    return low - 0.14 * span, max(fitting, default=SCALES[0])


def _draw_ground(axes: Axes, section: Section, floor: float) -> None:
    chainage, level = section.bed
    axes.fill_between(chainage, floor, level, color=EARTH_PALE, linewidth=0.0, zorder=1.0)
    axes.plot(chainage, level, color=EARTH, linewidth=1.4, zorder=4.0)
    _label_bed(axes, section)
    for extent in section.extents:
        if math.isfinite(extent.roof_start):
            _draw_culvert(axes, extent)
        elif extent.solid:
            corners = [(extent.start, extent.bed_start), (extent.start, extent.road), (extent.end, extent.road)]
            corners.append((extent.end, extent.bed_end))
            axes.add_patch(Polygon(corners, facecolor=STONE_PALE, edgecolor=STONE, linewidth=0.9, zorder=1.4))


def _label_bed(axes: Axes, section: Section) -> None:
    """Levels of the bed at the ends of the elements, as far as there is room."""
    scale = (WIDTH - LEFT - RIGHT) / (section.ends[1] - section.ends[0])
    last = -math.inf
    for chainage, level in zip(section.bed[0][1:-1], section.bed[1][1:-1], strict=True):
        if (chainage - last) * scale >= 0.5:
            look: dict[str, Any] = {"ha": "center", "va": "top", "fontsize": SMALL, "color": EARTH}
            axes.annotate(f"{level:.2f}", (chainage, level), (0, -6), textcoords="offset points", **look)
            last = chainage


def _draw_culvert(axes: Axes, extent: Outline) -> None:
    """The fill over barrel or openings up to the road, or a slab where there is none; and the screen.

    The pressure level shows through the fill of a culvert, whose barrel is computed; that of a bridge hides the water.
    """
    rise = extent.roof_start - extent.bed_start
    thin = max(extent.roof_start, extent.roof_end) + 0.12 * rise
    top = extent.road if math.isfinite(extent.road) else thin
    corners = [
        (extent.start, extent.roof_start),
        (extent.end, extent.roof_end),
        (extent.end, max(top, extent.roof_end)),
        (extent.start, max(top, extent.roof_start)),
    ]
    over_water = 3.6 if extent.hides_water else 1.4
    axes.add_patch(Polygon(corners, facecolor=STONE_PALE, edgecolor=STONE, linewidth=0.9, zorder=over_water))
    axes.plot([extent.start, extent.end], [extent.roof_start, extent.roof_end], color=STONE, linewidth=1.8, zorder=4.0)
    if math.isfinite(extent.road):
        axes.plot([extent.start, extent.end], [extent.road] * 2, color=STONE, linewidth=2.4, zorder=4.0)
    if extent.relief:
        axes.add_patch(Polygon(extent.relief, facecolor="none", edgecolor=STONE, zorder=4.0, **RELIEF))
    if extent.screen is not None:
        foot, head = extent.screen
        axes.plot(
            [foot[0], head[0]], [foot[1], head[1]], color=INK, linewidth=2.2, linestyle=(0, (1.4, 0.7)), zorder=5.0
        )


def _draw_water(axes: Axes, section: Section) -> None:
    """Bands, median and the run at the medians; endless levels leave the picture at the top."""
    top = 2.0 * axes.get_ylim()[1] - axes.get_ylim()[0]
    for piece in section.pieces:
        if piece.quantiles is None:
            bed = np.interp(piece.chainage, *section.bed)
            axes.fill_between(
                piece.chainage, bed, np.minimum(piece.certain, top), color=WATER_PALE, linewidth=0.0, zorder=1.2
            )
        else:
            low, quarter, middle, upper, high = np.minimum(piece.quantiles, top)
            axes.fill_between(piece.chainage, low, high, color=WATER_PALE, linewidth=0.0, zorder=2.0)
            axes.fill_between(piece.chainage, quarter, upper, color=WATER_MID, linewidth=0.0, zorder=2.1)
            axes.plot(piece.chainage, middle, color=WATER, linewidth=1.6, zorder=3.0)
        look: dict[str, Any] = {"color": INK, "linewidth": 1.2, "linestyle": "--"}
        if piece.quantiles is None:
            look = {"color": WATER, "linewidth": 1.8, "linestyle": "-"}
        axes.plot(piece.chainage, np.minimum(piece.certain, top), zorder=3.5, **look)


def _draw_banks(axes: Axes, section: Section) -> None:
    places = [bank.chainage for bank in section.banks]
    axes.plot(
        places, [bank.level for bank in section.banks], color=EARTH, linewidth=0.9, linestyle=(0, (5, 3)), zorder=4.0
    )
    for bank in section.banks:
        axes.plot([bank.chainage] * 2, [bank.low, bank.high], color=EARTH, linewidth=1.0, zorder=4.5)
        axes.plot(bank.chainage, bank.level, "v", color=EARTH, markersize=5.5, zorder=4.6)


def _key(section: Section, sampled: bool) -> list[Artist]:
    handles: list[Artist] = []
    if sampled:
        handles += [
            Line2D([], [], color=WATER, linewidth=1.6, label="water, median"),
            Patch(color=WATER_MID, label="water, 25 to 75 %"),
            Patch(color=WATER_PALE, label="water, 5 to 95 %"),
            Line2D([], [], color=INK, linewidth=1.2, linestyle="--", label="all inputs at medians"),
        ]
    else:
        handles.append(Line2D([], [], color=WATER, linewidth=1.8, label="water, all inputs at medians"))
    if section.banks:
        words = "bank (5 to 95 %)" if sampled else "bank"
        look: dict[str, Any] = {"marker": "v", "markersize": 5.0, "linestyle": (0, (5, 3)), "linewidth": 0.9}
        handles.append(Line2D([], [], color=EARTH, label=words, **look))
    handles.append(Line2D([], [], color=EARTH, linewidth=1.4, label="bed"))
    if any(math.isfinite(extent.roof_start) for extent in section.extents):
        kinds = [extent.kind for extent in section.extents if math.isfinite(extent.roof_start)]
        words = f"{' or '.join(dict.fromkeys(kinds))} and what lies over it"
        handles.append(Patch(facecolor=STONE_PALE, edgecolor=STONE, label=words))
    for kind in dict.fromkeys(extent.kind for extent in section.extents if extent.solid):
        handles.append(Patch(facecolor=STONE_PALE, edgecolor=STONE, label=kind))
    if any(extent.relief for extent in section.extents):
        handles.append(Patch(facecolor="none", edgecolor=STONE, label="relief barrels", **RELIEF))
    if any(extent.screen is not None for extent in section.extents):
        handles.append(Line2D([], [], color=INK, linewidth=2.2, linestyle=(0, (1.4, 0.7)), label="screen"))
    return handles
