"""What the study wants, in one sense at a time: the level, the bank level that meets it, and the blockage for that."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from overbank.analysis import allowance, bands, exceedance
from overbank.analysis.annual import in_one_year
from overbank.analysis.intervals import Estimate
from overbank.outputs.annual import Annual
from overbank.outputs.blockage import Blockage
from overbank.outputs.headwater import Headwater
from overbank.outputs.in_tables import columns, figure
from overbank.outputs.output import Output, Tables
from overbank.outputs.overtopping import Overtopping
from overbank.sampling.run import Run
from overbank.site.numbers import FLOW

IN_THE_FLOOD, ASSURED, IN_A_YEAR, OVER_LIFE = "in the design flood", "assurance", "in a year", "over the design life"
"""Senses in which a probability of overtopping may be wanted."""


@dataclass(frozen=True)
class Target:
    """What is wanted in one sense, and what meets it.

    accepted : probability of overtopping, in that sense; wanted : whether the study states it itself
    found : the same of the bank as it is; None where only a level is asked for
    level : that a bank of known height must reach, so that overtopping has the accepted probability [m]
    rise : of that above the median bank as it is [m]; negative where the bank is higher
    allowance : the one blockage that gives the level in one run; nan where none does, None without uncertain blockage
    largest : the largest blockage that may always be there; None where it was not looked for
    """

    sense: str
    accepted: float
    wanted: bool
    found: Estimate | None
    level: Estimate
    rise: float
    allowance: Estimate | None
    largest: Estimate | None


def _find(
    run: Run, headwater: Headwater, overtopping: Overtopping, blockage: Blockage | None, annual: Annual | None
) -> tuple[Target, ...]:
    """In the design flood, with the assurance where it says something else, in a year and over the design life."""
    reading, decision = _Reading(run, blockage), run.sampling.decision
    flood = exceedance.quantile(headwater.curve, decision.target_probability)
    largest = None if blockage is None else blockage.largest
    found = [reading.target(IN_THE_FLOOD, decision.target_probability, True, overtopping.best, flood, largest)]
    if not decision.agrees:
        level = headwater.quantiles[decision.assurance]
        found.append(reading.target(ASSURED, 1.0 - decision.assurance, True, None, level, None))
    return (*found, *(() if annual is None else reading.of_years(annual)))


@dataclass(frozen=True)
class _Reading:
    """What the targets are read from."""

    run: Run
    blockage: Blockage | None

    def target(
        self,
        sense: str,
        accepted: float,
        wanted: bool,
        found: Estimate | None,
        level: Estimate,
        largest: Estimate | None,
        flow: float | None = None,
    ) -> Target:
        """One sense; `flow` is that of the one run for the allowance, the design flow if left out."""
        bank = float(np.median(self.run.sampling.banks[self.run.sampling.at]))
        return Target(sense, accepted, wanted, found, level, level.value - bank, self._allowance(level, flow), largest)

    def _allowance(self, level: Estimate, flow: float | None) -> Estimate | None:
        """The one blockage that gives a level, every other number at its median."""
        blocked = self.blockage
        if blocked is None or np.isnan(level.value):
            return None
        changed = {} if flow is None else {FLOW: flow}
        return allowance.needed(lambda share: self.run.model.level_of({**changed, blocked.name: share}), level)

    def of_years(self, annual: Annual) -> tuple[Target, ...]:
        """In a year, and over the design life where there is one; the design flood's target if none is stated."""
        decision, life = self.run.sampling.decision, annual.life
        wanted = decision.target_in_a_year
        lines = [(IN_A_YEAR, wanted, wanted or decision.target_probability, 1, annual.probability)]
        if life is not None:
            over = decision.target_over_life
            lines.append((OVER_LIFE, over, over or decision.target_probability, life.years, life.probability))
        found = []
        for sense, stated, accepted, years, seen in lines:
            each = in_one_year(accepted, years)
            level = bands.inverse(annual.frequency.expected, each, falling=True)
            flow = float(annual.given.floods.best.quantile(1.0 - each))
            found.append(self.target(sense, accepted, stated is not None, seen, level, None, flow))
        return tuple(found)


def _summary(found: tuple[Target, ...]) -> dict[str, Any]:
    return {"targets": {each.sense: _in_short(each) for each in found}}


def _in_short(found: Target) -> dict[str, Any]:
    parts = {"found": found.found, "allowance": found.allowance, "largest_blockage": found.largest}
    said = {name: figure(each) for name, each in parts.items() if each is not None}
    return {
        "accepted": found.accepted,
        "stated_in_the_study": found.wanted,
        "bank_level_m": figure(found.level),
        **said,
    }


def _tables(found: tuple[Target, ...]) -> Tables:
    nothing = Estimate(np.nan, np.nan, np.nan, "")
    rows = []
    for each in found:
        row: dict[str, Any] = {"sense": each.sense, "accepted": each.accepted, "stated": each.wanted}
        row |= columns("found", each.found or nothing) | columns("bank_level_m", each.level)
        row["above_median_bank_m"] = each.rise
        row |= columns("allowance", each.allowance or nothing) | columns("largest_blockage", each.largest or nothing)
        rows.append(row)
    return {"targets": pd.DataFrame(rows)}


OUTPUT = Output(find=_find, needs=("headwater", "overtopping", "blockage", "annual"), tables=_tables, summary=_summary)
