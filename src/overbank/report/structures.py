"""The page of a register of structures, and its picture: how high the risk of each, and how sure that it is among the
worst."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from overbank import __version__
from overbank.report.page import style, templates
from overbank.report.style import DEBRIS, EARTH, PLUM, SOFT, STONE, WATER, axes_at, drawn, percent, sheet, write
from overbank.report.svg import inline, legible, save
from overbank.words import cautions

FILE = "register.html"

LEAST = 1e-6
"""Probabilities below this are drawn at it."""

MANY = 2000
"""More points than this are drawn as a picture of dots, not each by itself."""

INKS = (WATER, DEBRIS, PLUM, EARTH, STONE)
"""Colours of the kinds, in the order of their words."""


@drawn
def risk_against_confidence(table: pd.DataFrame, worst: int) -> Figure:
    """Probability of overtopping across, probability of being among the worst up; a dot a structure."""
    figure = sheet(3.5)
    axes = axes_at(figure, 0.75, 0.6, 5.7, 2.6)
    for ink, (kind, own) in zip(INKS, table.groupby("kind", sort=True), strict=False):
        across = np.maximum(own["probability"].to_numpy(), LEAST)
        axes.scatter(
            across, own["among_worst"], s=9.0, color=ink, alpha=0.6, linewidths=0.0, label=str(kind),
            rasterized=len(table) > MANY, clip_on=False,
        )  # fmt: skip
    axes.set_xscale("log")
    axes.set_xlim(LEAST, 1.0)
    axes.xaxis.set_major_formatter(percent)
    axes.set_ylim(0.0, 1.0)
    axes.set_xlabel(f"probability of overtopping in the design flood (below {percent(LEAST)}: drawn there)")
    axes.set_ylabel(f"probability of being\namong the worst {worst:,}")
    axes.legend(loc="upper left")
    write(figure, 0.75, 3.28, "Right and high: likely, and sure to be among the worst. Right and half way: likely, and "
          "not known well.", color=SOFT, size=8.0)  # fmt: skip
    return figure


def structures_page(content: Mapping[str, Any], table: pd.DataFrame, folder: Path) -> str:
    """The page as text; its picture goes into the folder as files too. What comes from the table is escaped."""
    pictures = folder / "figures"
    pictures.mkdir(exist_ok=True)
    document = save(risk_against_confidence(table, content["worst"]), "risk_and_confidence", pictures)
    words = "Every structure by its probability of overtopping and by its probability of being among the worst."
    said = {
        **content,
        "version": __version__,
        "cautions": cautions(),
        "picture": inline(document, "risk_and_confidence", words),
        "style": style(content["title"], f"overbank {__version__}"),
    }
    return legible(templates().get_template("structures.html").render(said))
