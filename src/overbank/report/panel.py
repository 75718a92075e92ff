"""The panel of the page: every figure it can show, as text, for the script that only looks them up."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from overbank.analysis.intervals import Estimate
from overbank.outputs.outcome import Outcome
from overbank.report.readings import blocked_words
from overbank.words import measure, rounded, share_words

SETTLED = 0.5
"""Blockage at which the slider of the blockage stands at first."""


class Slider(NamedTuple):
    """A range input over the places of a list: where it stands at first, and the last of the places."""

    at: int
    last: int


class Sliders(NamedTuple):
    """What a reader can choose; no blockage where none is uncertain."""

    blockage: Slider | None
    bank: Slider
    target: Slider
    blocked: str
    samples: str


def sliders(outcome: Outcome) -> Sliders | None:
    """None where there is nothing to read off."""
    found = outcome.panel
    if found is None:
        return None
    settled = [row.blockage for row in found.rows[1:]]
    return Sliders(
        blockage=Slider(settled.index(SETTLED), len(settled) - 1) if settled else None,
        bank=Slider(found.start, len(found.banks) - 1),
        target=Slider(found.targets.index(outcome.target), len(found.targets) - 1),
        blocked="" if found.name is None else blocked_words(found.name),
        samples=f"{found.samples:,}",
    )


def data(outcome: Outcome) -> dict[str, Any] | None:
    """Texts by the places of the sliders; row 0 is as uncertain as assumed, the rows after it a set blockage."""
    found = outcome.panel
    if found is None:
        return None
    return {
        "blockages": [share_words(row.blockage) for row in found.rows if row.blockage is not None],
        "banks": [measure(bank, "m") for bank in found.banks],
        "targets": [share_words(target) for target in found.targets],
        "above": [[_said(figure, "p") for figure in row.above] for row in found.rows],
        "levels": [[_said(figure, "m") for figure in row.levels] for row in found.rows],
        "largest": [[largest(figure) for figure in figures] for figures in found.largest],
    }


def largest(figure: Estimate) -> tuple[str, str]:
    """The largest blockage within a target; words where no blockage, or every one, is."""
    if figure.note:
        return "none" if math.isnan(figure.value) else "any of them", figure.note
    return _said(figure, "%")


def _said(figure: Estimate, unit: str) -> tuple[str, str]:
    said = rounded(figure, unit)
    return said.value, said.interval
