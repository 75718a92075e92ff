"""Level and overtopping along the inputs that act most: what learning an input would tell."""

from __future__ import annotations

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from overbank.analysis.effects import Effect
from overbank.outputs.outcome import Outcome
from overbank.report.marks import key_at_foot, small_scale
from overbank.report.names import plain_name
from overbank.report.ranking import acting
from overbank.report.style import (
    DEBRIS,
    DEBRIS_PALE,
    INK,
    RULE,
    SIZE,
    SMALL,
    SOFT,
    WATER,
    WATER_PALE,
    WIDTH,
    axes_at,
    drawn,
    sheet,
    shortened,
    write,
)

MOST = 3
"""Inputs drawn, the strongest first; the table in the results holds all."""

LEFT, GAP, RIGHT, BOTTOM, HEIGHT, BETWEEN, ABOVE = 0.72, 0.3, 0.2, 0.95, 1.25, 0.52, 0.34
"""Room on the sheet, and height of a panel [in]."""

OUTPUTS = {"level": (WATER, WATER_PALE, "mean level [m]"), "overtopping": (DEBRIS, DEBRIS_PALE, "overtopping")}
"""Colours of each output, and the title of its row."""


def drawn_inputs(outcome: Outcome) -> list[str]:
    """Names of the inputs whose curves are drawn."""
    known = {each.input for found in outcome.drivers.effects.values() for each in found if each.at.size > 1}
    return [name for name in acting(outcome)[0] if name in known][:MOST]


@drawn
def along_inputs(outcome: Outcome) -> Figure:
    """A column an input: mean level above, probability of overtopping below, each with its band."""
    names = drawn_inputs(outcome)
    figure = sheet(BOTTOM + 2 * HEIGHT + BETWEEN + ABOVE)
    width = (WIDTH - LEFT - RIGHT - (MOST - 1) * GAP) / MOST
    for row, (output, (colour, pale, title)) in enumerate(OUTPUTS.items()):
        found = _along(outcome, output)
        bottom = BOTTOM + (1 - row) * (HEIGHT + BETWEEN)
        write(figure, LEFT, bottom + HEIGHT + 0.1, title, color=INK, fontsize=SIZE)
        shown = [found[name] for name in names if name in found]
        for place, name in enumerate(names):
            axes = axes_at(figure, LEFT + place * (width + GAP), bottom, width, HEIGHT)
            _scale(axes, shown, output, labelled=place == 0)
            if name in found:
                _draw(axes, found[name], colour, pale)
            else:
                over = outcome.overtopping
                integrated = over is not None and name == over.integrated
                words = "integrated out" if integrated else "none, see the notes"
                axes.set_xticks([0.5], [" "])
                axes.text(0.5, 0.5, words, transform=axes.transAxes, ha="center", color=SOFT, fontsize=SMALL)
            if row == 1:
                known = plain_name(name)
                words = shortened(f"{known.group}: {known.with_unit}", width, SMALL)
                axes.set_xlabel(words, fontsize=SMALL, labelpad=3.0, loc="left")
    handles: list[Artist] = [
        Line2D([], [], color=WATER, label="mean of the level"),
        Line2D([], [], color=DEBRIS, label="probability of overtopping"),
        Patch(color=RULE, label="their 95 % bands, in paler colours"),
    ]
    key_at_foot(figure, handles, 3)
    return figure


def _along(outcome: Outcome, output: str) -> dict[str, Effect]:
    """The curve of every input; that of a blockage which is integrated out is the one of the threshold method."""
    found = {each.input: each for each in outcome.drivers.effects.get(output, ())}
    blocked = outcome.blockage
    if output == "overtopping" and blocked is not None and blocked.name not in found:
        curve = blocked.given or blocked.fixed
        none = np.zeros(curve.at.shape, dtype=np.intp)
        found[blocked.name] = Effect(
            blocked.name, curve.at, curve.probability, curve.low, curve.high, none, curve.method
        )
    return found


def _scale(axes: Axes, shown: list[Effect], output: str, *, labelled: bool) -> None:
    """The same vertical axis for all inputs, so that the strong ones look strong."""
    if shown:
        low = min(float(np.nanmin(each.mean)) for each in shown)
        high = max(float(np.nanmax(each.mean)) for each in shown)
        margin = 0.08 * max(high - low, 1e-6)
        axes.set_ylim(low - margin, high + margin)
    small_scale(axes, of_levels=output == "level")
    axes.tick_params(labelleft=labelled)


def _draw(axes: Axes, effect: Effect, colour: str, pale: str) -> None:
    axes.fill_between(effect.at, effect.low, effect.high, color=pale, linewidth=0.0, zorder=2.0)
    axes.plot(effect.at, effect.mean, color=colour, linewidth=1.5, zorder=3.0)
    axes.xaxis.set_major_locator(MaxNLocator(3))
