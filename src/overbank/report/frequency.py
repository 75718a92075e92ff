"""Floods of a year and the levels they bring, against their annual probability."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter, NullLocator
from numpy.typing import NDArray

from overbank.analysis.bands import Curve
from overbank.outputs.annual import Annual
from overbank.outputs.outcome import Outcome
from overbank.report.marks import key_below
from overbank.report.readings import bank_levels
from overbank.report.style import (
    DEBRIS,
    EARTH,
    EARTH_PALE,
    INK,
    RULE,
    STONE,
    WATER,
    WATER_PALE,
    WIDTH,
    axes_at,
    drawn,
    percent,
    sheet,
    write,
)
from overbank.uncertain.likely_floods import LikelyFit

Array = NDArray[np.float64]

LEFT, RIGHT, FLOWS, LEVELS = 0.62, 0.25, 2.3, 2.7
"""Margins and heights of the two plots [in]."""

TICKS = (0.9, 0.5, 0.2, 0.1, 0.04, 0.02, 0.01, 0.005, 0.002, 0.001, 1e-4, 1e-5, 1e-6)
"""Annual probabilities marked on the horizontal axis."""

COMMONEST, RAREST = 0.8, 0.001
"""Annual probabilities at the ends of the axis, unless overtopping is rarer still."""

DASHES: tuple[Any, ...] = ("--", ":", "-.", (0, (6, 1, 1, 1, 1, 1)))
"""Lines of the families that are averaged."""


def annual_of(outcome: Outcome) -> Annual:
    """The floods of a year of a study that gives annual maxima."""
    assert outcome.annual is not None
    return outcome.annual


def reduced(probability: Array | float) -> Array:
    """Place of an annual probability on the horizontal axis, -ln(-ln(1 - p)): there a Gumbel curve is straight."""
    with np.errstate(divide="ignore"):
        return np.asarray(-np.log(-np.log1p(-np.asarray(probability, dtype=np.float64))))


@drawn
def frequency(outcome: Outcome) -> Figure:
    """Flow above, level below, both against the annual probability that they are exceeded."""
    annual = annual_of(outcome)
    below, between = 1.12, 0.72
    figure = sheet(below + LEVELS + between + FLOWS + 0.35)
    width = WIDTH - LEFT - RIGHT
    levels = axes_at(figure, LEFT, below, width, LEVELS)
    flows = axes_at(figure, LEFT, below + LEVELS + between, width, FLOWS)
    for axes in (flows, levels):
        _probabilities(axes, annual)
    handles = _draw_flows(flows, annual)
    write(figure, 0.05, below + LEVELS + between + FLOWS + 0.14, "largest flow of a year [m³/s]", color=INK)
    key_below(flows, handles, 3, 0.28)
    write(figure, 0.05, below + LEVELS + 0.14, f"level upstream of {outcome.place} [m]", color=INK)
    handles = _draw_levels(levels, outcome, annual)
    levels.set_xlabel("annual probability that it is exceeded", labelpad=5.0)
    key_below(levels, handles, 2, 0.52)
    return figure


def _probabilities(axes: Axes, annual: Annual) -> None:
    """The horizontal axis, far enough to show the probability of overtopping."""
    rarest = RAREST
    if 0.0 < annual.probability.value < RAREST:
        rarest = max(0.3 * annual.probability.value, TICKS[-1])
    axes.set_xlim(float(reduced(COMMONEST)), float(reduced(rarest)) + 0.1)
    shown = [p for p in TICKS if rarest * 0.999 <= p <= COMMONEST]
    axes.set_xticks(reduced(np.array(shown)), [percent(p) for p in shown])
    axes.grid(color=RULE, linewidth=0.6)


def _draw_flows(axes: Axes, annual: Annual) -> list[Artist]:
    """Best estimate, 90 % of its alternatives, and the annual maxima."""
    floods = annual.given.floods
    at = np.linspace(*axes.get_xlim(), 60)
    probability = -np.expm1(-np.exp(-at))
    best = floods.best.quantile(1.0 - probability)
    axes.plot(at, best, color=WATER, linewidth=1.9, zorder=4.0)
    handles: list[Artist] = [Line2D([], [], color=WATER, linewidth=1.9, label="best estimate")]
    if not floods.known:
        low, high = np.quantile(floods.flood(probability), [0.05, 0.95], axis=0)
        axes.fill_between(at, low, high, color=WATER_PALE, linewidth=0.0, zorder=1.5)
        handles.append(Patch(color=WATER_PALE, label="90 % of its alternatives"))
    families = floods.fit.families if isinstance(floods.fit, LikelyFit) else ()
    for each, dash in zip(families, DASHES, strict=False):
        if len(families) > 1:
            axes.plot(at, each.best.quantile(1.0 - probability), color=STONE, linestyle=dash, linewidth=1.0, zorder=3.0)
            words = f"{each.name.replace('_', ' ')}, {100.0 * each.weight:.0f}\u00a0%"
            handles.append(Line2D([], [], color=STONE, linestyle=dash, linewidth=1.0, label=words))
    if floods.fit is not None:
        points = reduced(floods.fit.plotting_positions)
        look = {"color": INK, "marker": "o", "markersize": 3.5, "linestyle": ""}
        axes.plot(points, floods.fit.maxima, zorder=5.0, **look)  # type: ignore[arg-type]
        handles.append(Line2D([], [], label="floods on record", **look))  # type: ignore[arg-type]
    axes.set_yscale("log")
    axes.yaxis.set_major_locator(LogLocator(10.0, subs=(1.0, 2.0, 5.0)))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda flow, _: f"{flow:g}"))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_minor_formatter(NullFormatter())
    return handles


def _draw_levels(axes: Axes, outcome: Outcome, annual: Annual) -> list[Artist]:
    """Frequency of the levels with what is not known, with nothing blocked, and the bank."""
    expected, knowledge = annual.frequency.expected, annual.frequency.knowledge
    axes.fill_betweenx(
        expected.at, reduced(knowledge[0.05]), reduced(knowledge[0.95]), color=WATER_PALE, linewidth=0.0, zorder=1.5
    )
    axes.plot(reduced(expected.probability), expected.at, color=WATER, linewidth=1.9, zorder=4.0)
    handles: list[Artist] = [
        Line2D([], [], color=WATER, linewidth=1.9, label="annual probability of each level"),
        Patch(color=WATER_PALE, label="5 to 95 % of what is not known"),
    ]
    if annual.unblocked is not None:
        clean = annual.unblocked.frequency.expected
        axes.plot(reduced(clean.probability), clean.at, color=STONE, linestyle="--", linewidth=1.3, zorder=3.5)
        handles.append(
            Line2D([], [], color=STONE, linestyle="--", linewidth=1.3, label="the same with nothing blocked")
        )
    low, middle, high = (float(level) for level in np.quantile(bank_levels(outcome), (0.05, 0.5, 0.95)))
    if high > low:
        axes.axhspan(low, high, color=EARTH_PALE, linewidth=0.0, zorder=0.5)
    axes.axhline(middle, color=EARTH, linewidth=1.0, zorder=1.0)
    handles.append(Line2D([], [], color=EARTH, linewidth=1.0, label=f"bank, {middle:.2f} m"))
    over = annual.probability.value
    if 0.0 < over < COMMONEST:
        axes.plot(reduced(over), middle, "o", color=DEBRIS, markersize=5.0, zorder=6.0)
        look = {"color": DEBRIS, "marker": "o", "markersize": 5.0, "linestyle": ""}
        handles.append(Line2D([], [], label="annual probability of overtopping", **look))  # type: ignore[arg-type]
    axes.set_ylim(*_level_limits(axes, expected, middle))
    return handles


def _level_limits(axes: Axes, curve: Curve, bank: float) -> tuple[float, float]:
    """From the lowest to the highest level that the horizontal axis holds, and the bank."""
    at, (left, right) = reduced(curve.probability), axes.get_xlim()
    seen = curve.at[(at >= left) & (at <= right)]
    ends = [*(seen if seen.size else curve.at), bank]
    margin = 0.05 * max(max(ends) - min(ends), 0.1)
    return min(ends) - margin, max(ends) + margin
