"""The probability curves: of the level, and of overtopping as blockage rises; and the blockage itself."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator, PercentFormatter
from scipy.special import ndtr

from overbank.analysis.bands import Curve
from overbank.outputs.blockage import Blockage
from overbank.outputs.outcome import Outcome
from overbank.report.marks import Flag, Flown, draw_flags, flag_height, flown, key_below
from overbank.report.names import plain_name
from overbank.report.readings import (
    Reach,
    allowance_reach,
    bank_levels,
    certain_level,
    largest_reach,
    road_level,
    share_above,
)
from overbank.report.style import (
    DEBRIS,
    DEBRIS_PALE,
    EARTH,
    EARTH_PALE,
    INK,
    PLUM,
    PLUM_PALE,
    RULE,
    SMALL,
    SOFT,
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
from overbank.words import known_decimals, share_words

LEFT, RIGHT, PLOT = 0.62, 0.25, 2.7
"""Margins and height of a plot [in]."""

RARE = 0.02
"""Below this probability of overtopping the curve is drawn on a logarithmic scale."""


def plot(
    flags: list[Flag], limits: tuple[float, float], labels: tuple[str, str], keys: int
) -> tuple[Axes, list[Flown]]:
    """Axes with a title for each axis, as high a sheet as flags above and lines of the key below need."""
    width = WIDTH - LEFT - RIGHT
    placed = flown(flags, limits, width, RIGHT)
    bottom = 0.58 + 0.2 * keys
    above = flag_height(placed)
    figure = sheet(bottom + PLOT + above + 0.3)
    axes = axes_at(figure, LEFT, bottom, width, PLOT)
    axes.set_xlim(*limits)
    axes.set_xlabel(labels[0], labelpad=5.0)
    write(figure, 0.05, bottom + PLOT + above + 0.1, labels[1], color=INK)
    axes.grid(axis="y", color=RULE, linewidth=0.6)
    return axes, placed


def of_one(axes: Axes) -> None:
    """A vertical axis from 0 to 100 %."""
    axes.set_ylim(0.0, 1.02)
    axes.set_yticks(np.linspace(0.0, 1.0, 6))
    axes.yaxis.set_major_formatter(FuncFormatter(percent))


def _logarithmic(axes: Axes, least: float) -> None:
    """A logarithmic vertical axis down to the decade below `least`."""
    axes.set_yscale("log")
    axes.set_ylim(10.0 ** math.floor(math.log10(least)), 1.1)
    axes.yaxis.set_major_locator(LogLocator(10.0))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_major_formatter(FuncFormatter(percent))


def _band(axes: Axes, curve: Curve, colour: str) -> None:
    """The 95 % band; nothing where there is none."""
    axes.fill_between(curve.at, curve.low, curve.high, color=colour, linewidth=0.0, zorder=2.0)


@drawn
def exceedance(outcome: Outcome) -> Figure:
    """Probability that the water upstream of the place stands above each level, with its 95 % band."""
    curve, plain = outcome.headwater.curve, outcome.headwater.plain
    flags, bank = _level_flags(outcome)
    limits = _level_limits(curve, [*bank, *(flag.at for flag in flags)])
    labels = (f"level upstream of {outcome.place} [m]", "probability that the water stands higher")
    axes, placed = plot(flags, limits, labels, 2)
    if bank[1] > bank[0]:
        axes.axvspan(*bank, color=EARTH_PALE, linewidth=0.0, zorder=0.5)
    best = 1.0 if outcome.overtopping is None else outcome.overtopping.best.value
    _logarithmic(axes, max(best, 1e-7) / 10.0) if 0.0 < best < RARE else of_one(axes)
    axes.fill_between(plain.at, plain.low, plain.high, step="post", color=RULE, linewidth=0.0, zorder=1.8)
    counted: dict[str, Any] = (
        {"color": SOFT, "linewidth": 0.8} if curve is not plain else {"color": WATER, "linewidth": 1.5}
    )
    axes.step(plain.at, plain.probability, where="post", zorder=3.0, **counted)
    handles: list[Artist] = [
        Line2D([], [], label="plain count of samples, with its 95 % band", **counted),
        Patch(color=EARTH_PALE, label="bank level, 5 to 95 %"),
        Line2D([], [], color=EARTH, linewidth=1.0, label="bank level, median"),
    ]
    if curve is not plain:
        _band(axes, curve, WATER_PALE)
        axes.plot(curve.at, curve.probability, color=WATER, linewidth=1.9, zorder=4.0)
        handles.insert(0, Line2D([], [], color=WATER, linewidth=1.9, label="threshold method, with its 95 % band"))
    if bank[1] <= bank[0]:
        handles = [handle for handle in handles if not isinstance(handle, Patch)]
    _reading(axes, outcome)
    draw_flags(axes, placed)
    key_below(axes, handles, 2, 0.52)
    return axes.figure  # type: ignore[return-value]


def _level_limits(curve: Curve, also: list[float]) -> tuple[float, float]:
    """From the level that 99.5 % exceed to where hardly any rise further, and what else must be seen."""
    endless = float(curve.probability[-1])
    least = endless + (0.01 if endless > 0.0 else 0.0005)
    seen = curve.at[(curve.probability < 0.995) & (curve.probability > least)]
    ends = [*(seen if seen.size else curve.at), *also]
    margin = 0.03 * (max(ends) - min(ends))
    return min(ends) - margin, max(ends) + margin


def _level_flags(outcome: Outcome) -> tuple[list[Flag], tuple[float, float]]:
    """Uprights of the exceedance curve, and the 5 and 95 % levels of the bank."""
    curve = outcome.headwater.curve
    banks = bank_levels(outcome)
    low, middle, high = (float(np.quantile(banks, share)) for share in (0.05, 0.5, 0.95))
    flags = [Flag(middle, f"bank {middle:.2f} m", EARTH)]
    level = certain_level(outcome)
    if math.isfinite(level):
        share = share_above(curve, level)
        words = f"all inputs at their medians: {level:.2f} m, exceeded in {100.0 * share:.0f} %"
        flags.append(Flag(level, words, INK, "--"))
    assured = outcome.headwater.quantiles[outcome.assurance]
    if math.isfinite(assured.value):
        decimals = known_decimals(assured, 2)
        words = f"{assured.value:.{decimals}f} m with {share_words(outcome.assurance)} assurance"
        flags.append(Flag(assured.value, words, WATER, ":"))
    word, road = road_level(outcome)
    reach = 0.3 * (curve.at[-1] - curve.at[0])
    if curve.at[0] - reach < road < curve.at[-1] + reach:
        flags.append(Flag(road, f"{word} {road:.2f} m", STONE, "-."))
    return flags, (low, high)


def _reading(axes: Axes, outcome: Outcome) -> None:
    """From the assured level to its probability on the vertical axis."""
    assured, share = outcome.headwater.quantiles[outcome.assurance].value, 1.0 - outcome.assurance
    if not math.isfinite(assured):
        return
    axes.plot([axes.get_xlim()[0], assured], [share, share], color=WATER, linestyle=":", linewidth=1.0)
    axes.plot(assured, share, "o", color=WATER, markersize=4.5, zorder=5.0)


@drawn
def overtopping_by_blockage(outcome: Outcome) -> Figure:
    """Probability of overtopping with the blockage set to each share, everything else as uncertain as it is."""
    blocked = outcome.blockage
    if blocked is None:
        return _words_only("No blockage is uncertain in this study: there is no curve to draw.")
    flags = _blockage_flags(blocked, outcome)
    labels = (_blocked_label(blocked.name), f"probability that the water goes over the bank at {outcome.place}")
    axes, placed = plot(flags, (-0.01, 1.01), labels, 1 if blocked.given is None else 2)
    of_one(axes)
    axes.xaxis.set_major_formatter(PercentFormatter(1.0, decimals=0, symbol=" %"))
    _band(axes, blocked.fixed, DEBRIS_PALE)
    axes.plot(blocked.fixed.at, blocked.fixed.probability, color=DEBRIS, linewidth=1.9, zorder=4.0)
    handles: list[Artist] = [
        Line2D([], [], color=DEBRIS, linewidth=1.9, label="blockage set to this share, with 95 % band"),
    ]
    if blocked.given is not None:
        _band(axes, blocked.given, PLUM_PALE)
        axes.plot(blocked.given.at, blocked.given.probability, color=PLUM, linestyle="--", linewidth=1.5, zorder=3.5)
        words = "this share found in a flood, as it goes with other inputs"
        handles.append(Line2D([], [], color=PLUM, linestyle="--", linewidth=1.5, label=words))
    axes.axhline(outcome.target, color=DEBRIS, linestyle=":", linewidth=1.0, zorder=1.5)
    words = f"target, {share_words(outcome.target)}"
    handles.append(Line2D([], [], color=DEBRIS, linestyle=":", linewidth=1.0, label=words))
    draw_flags(axes, placed)
    key_below(axes, handles, 2, 0.52)
    return axes.figure  # type: ignore[return-value]


def _blockage_flags(blocked: Blockage, outcome: Outcome) -> list[Flag]:
    """The largest blockage and the allowance where there are such."""
    flags, largest, allowed = [], blocked.largest.value, blocked.allowance.value
    if largest_reach(blocked, outcome.target) is Reach.WITHIN:
        flags.append(Flag(largest, f"at most {100.0 * largest:.0f} % for the target", DEBRIS, ":"))
    if allowance_reach(outcome, blocked) is Reach.WITHIN:
        words = f"{100.0 * allowed:.0f} % in one run, for {share_words(outcome.assurance)} assurance"
        flags.append(Flag(allowed, words, INK, "--"))
    return flags


@drawn
def blockage_distribution(outcome: Outcome) -> Figure:
    """What is assumed of the blockage: probability of no more than each share, single shares as bars."""
    if outcome.blockage is None:
        return _words_only("No blockage is uncertain in this study: there is no distribution to draw.")
    name = outcome.blockage.name
    inputs = outcome.problem.inputs
    distribution = inputs.items[inputs.index(name)].distribution
    mean, median = distribution.mean, distribution.median
    flags = [
        Flag(median, f"median {100.0 * median:.0f} %", SOFT, "--"),
        Flag(mean, f"mean {100.0 * mean:.0f} %", DEBRIS, "-"),
    ]
    axes, placed = plot(flags, (-0.02, 1.02), (_blocked_label(name), "probability of this blocked share or less"), 1)
    of_one(axes)
    axes.xaxis.set_major_formatter(PercentFormatter(1.0, decimals=0, symbol=" %"))
    shares = np.unique(np.concatenate([np.linspace(0.0, 1.0, 201), [at for at, _ in distribution.atoms]]))
    rise = np.column_stack([ndtr(distribution.score_below(shares)), distribution.cdf(shares)])
    axes.plot(np.repeat(shares, 2), rise.ravel(), color=DEBRIS, linewidth=1.9, zorder=3.0)
    handles: list[Artist] = [Line2D([], [], color=DEBRIS, linewidth=1.9, label="this share or less")]
    atoms = [(at, chance) for at, chance in distribution.atoms if chance >= 0.005]
    if atoms:
        axes.bar(
            [at for at, _ in atoms], [chance for _, chance in atoms], width=0.022, color=DEBRIS_PALE, edgecolor=DEBRIS,
            linewidth=0.8, zorder=2.5,
        )  # fmt: skip
        handles.append(Patch(facecolor=DEBRIS_PALE, edgecolor=DEBRIS, linewidth=0.8, label="exactly this share"))
    if len(atoms) <= 4:
        for at, chance in atoms:
            side = -1.0 if at > 0.5 else 1.0
            axes.text(
                at + 0.018 * side, max(chance - 0.05, 0.015), f"{100.0 * chance:.0f} %", color=DEBRIS, fontsize=SMALL,
                va="bottom", ha="left" if side > 0 else "right", zorder=6.0,
            )  # fmt: skip
    draw_flags(axes, placed)
    key_below(axes, handles, 2, 0.52)
    return axes.figure  # type: ignore[return-value]


def _blocked_label(name: str) -> str:
    """Title of a horizontal axis of blockage."""
    known = plain_name(name)
    return f"{known.group}: {known.in_full}"


def _words_only(words: str) -> Figure:
    """A low sheet that says why there is nothing to draw."""
    figure = sheet(0.6)
    write(figure, 0.1, 0.25, words, color=SOFT)
    return figure
