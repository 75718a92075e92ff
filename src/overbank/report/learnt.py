"""What the floods that were seen teach: prior beside posterior, as tables and as a figure."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import pandas as pd
from markupsafe import Markup
from matplotlib.artist import Artist
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MultipleLocator

from overbank.outputs.learnt import LearntFromFloods, SeenFlood, Taught
from overbank.outputs.outcome import Outcome
from overbank.report.marks import key_at_foot
from overbank.report.names import plain_name
from overbank.report.ranking import MOST, NAMES, RIGHT, ROW, label_rows
from overbank.report.style import (
    DEBRIS,
    INK,
    RULE,
    SIZE,
    STONE,
    WATER_MID,
    WATER_PALE,
    WIDTH,
    axes_at,
    drawn,
    sheet,
)
from overbank.words import Rounded, rounded, share_words

REACH = 0.85
"""Ends of the axis of the figure, in 5 to 95 % ranges before the floods were seen, where nothing goes further."""


class SeenLine(NamedTuple):
    """A flood that was seen beside what was foretold for it."""

    name: str
    place: str
    flow: str
    seen: str
    foretold: str
    chance: str


class LearntLine(NamedTuple):
    """An input before and after: median with 5 and 95 %, and how much of its spread has gone."""

    path: str
    words: str
    before: str
    after: str
    narrowed: str


class FigureLine(NamedTuple):
    """A figure of the answer before and after."""

    words: str
    before: Rounded
    after: Rounded


class LearntGroup(NamedTuple):
    """Everything that the section shows; tables are empty where nothing could be learnt."""

    seen: tuple[SeenLine, ...]
    refusal: str
    figures: tuple[FigureLine, ...]
    inputs: tuple[LearntLine, ...]
    effective: str
    noise: str
    anew: str
    told: str
    notes: tuple[str, ...]


def learnt(outcome: Outcome) -> LearntGroup | None:
    """None where no flood was seen."""
    found = outcome.learnt
    if found is None:
        return None
    taught = found.taught
    anew, told = ("; ".join(plain_name(name).in_full for name in names) for names in (found.anew, found.told))
    seen = tuple(_seen_line(each, _chance(found, place)) for place, each in enumerate(found.seen))
    if taught is None:
        return LearntGroup(seen, found.refusal, (), (), "", "", anew, told, found.notes)
    kept = known(found, taught)
    return LearntGroup(
        seen,
        "",
        _figures(outcome, taught),
        tuple(_learnt_line(row) for _, row in kept.iterrows()),
        f"{taught.effective:,.0f} of {taught.weights.size:,}",
        f"{100.0 * 2.0 / math.sqrt(2.0 * taught.effective):.0f}\u00a0%",
        anew,
        told,
        found.notes,
    )


def sentences(outcome: Outcome) -> list[Markup]:
    """What the floods seen add to the answer, which stands without them; nothing where none was seen."""
    found = outcome.learnt
    if found is None:
        return []
    if found.taught is None:
        return [Markup("Nothing could be learnt from the floods seen; it must be known why before this is relied on.")]
    after = rounded(found.taught.probability.posterior, "p")
    template = "All this is without the floods seen; they take the probability to <strong>{}</strong> ({})."
    return [Markup(template).format(after.value, after.interval)]


def known(found: LearntFromFloods, taught: Taught) -> pd.DataFrame:
    """The inputs that may be learnt about, the one whose mean and spread have moved most first."""
    table = taught.inputs[~taught.inputs["input"].isin(found.anew)]
    shift = (table["posterior_mean"] - table["prior_mean"]) / table["prior_sd"]
    moved = np.hypot(shift, table["narrowed"])
    return table.assign(moved=moved).sort_values("moved", ascending=False, kind="stable")


def _chance(found: LearntFromFloods, place: int) -> str:
    return "not given" if found.taught is None else share_words(float(f"{found.taught.chances[place]:.2g}"))


def _seen_line(seen: SeenFlood, chance: str) -> SeenLine:
    low, middle, high = (f"{level:.2f}" if math.isfinite(level) else "endless" for level in seen.foretold.values())
    return SeenLine(
        seen.name,
        seen.place,
        seen.flow,
        f"{seen.level:.2f} ± {seen.sd:.3g}",
        f"{middle} ({low} to {high})",
        chance,
    )


def _figures(outcome: Outcome, taught: Taught) -> tuple[FigureLine, ...]:
    assurance, years = share_words(outcome.assurance), outcome.study.content.flow.design_life_years
    words = {
        "probability_of_overtopping": "probability of overtopping in the design flood",
        "level_with_the_assurance_m": f"level not exceeded with {assurance}",
        "allowance_for_assurance": f"blockage allowance, {assurance} assurance",
        "largest_blockage_within_target": f"largest blockage within {share_words(outcome.target)}",
        "overtopping_in_a_year": "probability of overtopping in a year",
        "overtopping_over_the_life": f"at least once in {years} years",
    }
    return tuple(
        FigureLine(words[name], rounded(each.prior, unit), rounded(each.posterior, unit))
        for name, (each, unit) in taught.figures.items()
    )


def _learnt_line(row: pd.Series) -> LearntLine:
    name = str(row["input"])
    decimals = _decimals(float(row["prior_sd"]))
    before, after = (_range(row, when, decimals) for when in ("prior", "posterior"))
    gone = f"{round(100.0 * float(row['narrowed'])) + 0:d}\u00a0%".replace("-", "\u2212")
    return LearntLine(name, plain_name(name).in_full, before, after, gone)


def _decimals(sd: float) -> int:
    """Two figures of the spread."""
    return 3 if not sd > 0.0 else min(6, max(0, 1 - math.floor(math.log10(sd))))


def _range(row: pd.Series, when: str, decimals: int) -> str:
    low, middle, high = (f"{float(row[f'{when}_{share}']):.{decimals}f}" for share in (5, 50, 95))
    return f"{middle} ({low} to {high})"


@drawn
def learnt_figure(outcome: Outcome) -> Figure:
    """Every input's 5 to 95 % range before and after, in units of the range before."""
    found = outcome.learnt
    assert found is not None
    assert found.taught is not None
    table = known(found, found.taught).head(MOST)
    rows = max(len(table), 2)
    bottom, above = 0.7, 0.32
    figure = sheet(bottom + rows * ROW + above)
    axes = axes_at(figure, NAMES, bottom, WIDTH - NAMES - RIGHT, rows * ROW)
    axes.set_title(
        "5 to 95 % range and median, in units of the range before", loc="left", fontsize=SIZE, color=INK, pad=7
    )
    axes.set_ylim(rows - 0.5, -0.5)
    axes.set_yticks([])
    axes.xaxis.set_major_locator(MultipleLocator(0.5))
    axes.spines["left"].set_visible(False)
    axes.grid(axis="x", color=RULE, linewidth=0.6)
    reach = REACH
    for place, (_, row) in enumerate(table.iterrows()):
        scale = max(float(row["prior_95"] - row["prior_5"]), 1e-12)
        for when, height, colour in (("prior", 0.62, WATER_PALE), ("posterior", 0.26, WATER_MID)):
            low, middle, high = (
                (float(row[f"{when}_{share}"]) - float(row["prior_50"])) / scale for share in (5, 50, 95)
            )
            axes.barh(place, high - low, left=low, height=height, color=colour, linewidth=0.0, zorder=2.0)
            reach = max(reach, -1.05 * low, 1.05 * high)
            mark = STONE if when == "prior" else DEBRIS
            axes.plot([middle, middle], [place - height / 2, place + height / 2], color=mark, linewidth=1.8, zorder=3.0)
    axes.set_xlim(-reach, reach)
    label_rows(figure, [str(name) for name in table["input"]], bottom + rows * ROW)
    _key(figure)
    return figure


def _key(figure: Figure) -> None:
    handles: list[Artist] = [
        Patch(color=WATER_PALE, label="before"),
        Line2D([], [], color=STONE, linewidth=1.8, label="its median"),
        Patch(color=WATER_MID, label="after the floods seen"),
        Line2D([], [], color=DEBRIS, linewidth=1.8, label="its median"),
    ]
    key_at_foot(figure, handles, 4, 1.6)
