"""Arrangements compared: their exceedance curves together, and a table of what each one changes."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from overbank.outputs.comparison import Arrangement, Comparison, Difference
from overbank.outputs.outcome import Outcome
from overbank.report.curves import of_one, plot
from overbank.report.marks import key_below
from overbank.report.readings import bank_levels
from overbank.report.style import DEBRIS, EARTH, EARTH_PALE, INK, PLUM, STONE, WATER, drawn
from overbank.words import Rounded, change, measure, rounded

COLOURS = (WATER, DEBRIS, PLUM, STONE, INK)
DASHES: tuple[Any, ...] = ("-", "--", ":", "-.", (0, (7, 2, 1, 2, 1, 2)), (0, (2, 3)))
LOOKS = tuple((COLOURS[k % len(COLOURS)], DASHES[k % len(DASHES)]) for k in range(len(COLOURS) * len(DASHES)))
"""Colour and dash of each arrangement: neighbours differ in both, the first six in their dash alone."""


@drawn
def arrangements(outcome: Outcome) -> Figure:
    """Exceedance of the level in every arrangement."""
    compared = compared_of(outcome)
    same = alike(outcome)
    shown = [each for each in compared.arrangements if each.name not in same]
    curves = [each.curve for each in shown]
    bank = np.quantile(bank_levels(outcome), (0.05, 0.5, 0.95))
    low = min(float(curve.at[0]) for curve in curves)
    high = max(float(curve.at[-1]) for curve in curves)
    labels = (f"level upstream of {compared.place} [m]", "probability that the water stands higher")
    axes, _ = plot([], (min(low, bank[0]), max(high, bank[2])), labels, len(curves) + 1)
    of_one(axes)
    axes.axvspan(bank[0], bank[2], color=EARTH_PALE, linewidth=0.0, zorder=0.5)
    axes.axvline(bank[1], color=EARTH, linewidth=1.0, zorder=1.0)
    handles = []
    for each, (colour, dash) in zip(shown, _looks(len(curves)), strict=True):
        look: dict[str, Any] = {"color": colour, "linestyle": dash, "linewidth": 1.8}
        axes.plot(each.curve.at, each.curve.probability, zorder=4.0, **look)
        handles.append(Line2D([], [], label=each.name, **look))
    key_below(axes, [*handles, Patch(color=EARTH_PALE, label="bank level, 5 to 95 %, as it stands")], 1, 0.52)
    return axes.figure  # type: ignore[return-value]


def _looks(count: int) -> tuple[tuple[str, Any], ...]:
    return tuple(LOOKS[k % len(LOOKS)] for k in range(count))


def compared_of(outcome: Outcome) -> Comparison:
    """The comparison of a study that has alternatives."""
    assert outcome.comparison is not None
    return outcome.comparison


def alike(outcome: Outcome) -> tuple[str, ...]:
    """Alternatives with the very levels of the site as it stands in every sample: crews and pools act in time only."""
    return tuple(
        each.name
        for each in compared_of(outcome).arrangements
        if (less := each.difference) is not None
        and not any(found.value for found in (less.probability, less.mean, less.lower, less.higher))
    )


class ArrangementLine(NamedTuple):
    """One arrangement: its figures, and its differences to the site as it stands, each with what goes with it."""

    name: str
    figures: tuple[Rounded, ...]
    differences: tuple[Rounded, ...]


def lines(outcome: Outcome) -> tuple[ArrangementLine, ...]:
    """The arrangements, the site as it stands first and without those alike; nothing without alternatives."""
    if outcome.comparison is None:
        return ()
    same = alike(outcome)
    return tuple(_line(each) for each in outcome.comparison.arrangements if each.name not in same)


def _line(found: Arrangement) -> ArrangementLine:
    blocked = found.blockage
    figures = (
        Rounded(measure(found.deterministic, "m"), "not sampled"),
        rounded(found.overtopping.best, "p"),
        rounded(found.assured, "m"),
        Rounded("none", "no blockage is uncertain") if blocked is None else rounded(blocked.allowance, "%"),
    )
    return ArrangementLine(found.name, figures, () if found.difference is None else _differences(found.difference))


def tolerance(outcome: Outcome) -> str:
    """The rise that the study tolerates, in words; empty where it says nothing of it."""
    tolerated = None if outcome.comparison is None else outcome.comparison.tolerance
    return "" if tolerated is None else f"{tolerated:.6g}\u00a0m"


def _differences(found: Difference) -> tuple[Rounded, ...]:
    return (
        change(found.probability, "p"),
        change(found.median, "m"),
        change(found.assured, "m"),
        rounded(found.lower, "p"),
        rounded(found.higher, "p"),
        *(() if found.beyond is None else (rounded(found.beyond, "p"),)),
    )
