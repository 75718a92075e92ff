"""A design sweep as a picture: how likely the water goes over the bank, and how high it stands, along one number."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
from matplotlib.figure import Figure
from matplotlib.ticker import PercentFormatter

from overbank.report.pictures import save_png
from overbank.report.style import INK, RULE, WATER, WATER_PALE, WIDTH, axes_at, drawn, sheet, write

LEFT, RIGHT, EACH, GAP = 0.75, 0.25, 2.0, 0.75
"""Margins, height of each of the two plots, and room between them [in]."""

PLOTS = (
    ("probability", "probability of overtopping in the design flood"),
    ("assured_level_m", "level with the assurance asked for [m]"),
)
"""What is drawn, the first below."""


@drawn
def sweep_figure(found: pd.DataFrame, name: str) -> Figure:
    """Both figures with their 95 % intervals against a number.

    Parameters
    ----------
    found : of `overbank.sweep_study`; name : the column of the number
    """
    figure = sheet(0.6 + len(PLOTS) * (EACH + GAP))
    for row, (column, words) in enumerate(PLOTS):
        bottom = 0.6 + row * (EACH + GAP)
        axes = axes_at(figure, LEFT, bottom, WIDTH - LEFT - RIGHT, EACH)
        at, value = found[name].to_numpy(dtype=float), found[column].to_numpy(dtype=float)
        axes.fill_between(at, found[f"{column}_low"], found[f"{column}_high"], color=WATER_PALE, linewidth=0.0)
        axes.plot(at, value, color=WATER, marker="o", markersize=3.5)
        axes.grid(axis="y", color=RULE, linewidth=0.6)
        write(figure, 0.05, bottom + EACH + 0.12, words, color=INK)
        if column == "probability":
            axes.set_ylim(0.0, max(0.01, 1.1 * float(np.nanmax(found[f"{column}_high"]))))
            axes.yaxis.set_major_formatter(PercentFormatter(1.0))
            axes.set_xlabel(name, labelpad=5.0)
    return figure


def save_sweep(found: pd.DataFrame, name: str, path: Path) -> None:
    """Draw a sweep into a PNG file.

    Raises
    ------
    FolderError : the file cannot be written
    """
    save_png((sweep_figure(found, name),), path)
