"""How the answers move with the tails of the dependences that have their own: the same ranks, jointly normal."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability
from overbank.outputs.annual import Annual
from overbank.outputs.headwater import Headwater
from overbank.outputs.in_tables import columns, figure
from overbank.outputs.output import Output, Tables
from overbank.outputs.overtopping import Overtopping
from overbank.outputs.registry import Results, find
from overbank.sampling.run import Run
from overbank.study.load import Study

ANSWERS = ("headwater", "overtopping", "annual")
"""What is looked at."""


@dataclass(frozen=True)
class Figures:
    """Under one kind of tails.

    overtopping : probability in the design flood
    level : not exceeded with the assurance asked for [m]
    in_a_year : annual probability of overtopping; None where the study gives no annual maxima
    """

    overtopping: Probability
    level: Estimate
    in_a_year: Probability | None


@dataclass(frozen=True)
class TailsCompared:
    """The answers with the tails as stated, and with the same rank correlations jointly normal."""

    stated: Figures
    normal: Figures


def _without_tails(study: Study) -> Study:
    plain = [each.model_copy(update={"tails": "gaussian"}) for each in study.content.dependence]
    return replace(study, content=study.content.model_copy(update={"dependence": plain}), alternatives={})


def _figures(assurance: float, headwater: Headwater, overtopping: Overtopping, annual: Annual | None) -> Figures:
    yearly = None if annual is None else annual.probability
    return Figures(overtopping.best, headwater.quantiles[assurance], yearly)


def _find(run: Run, headwater: Headwater, overtopping: Overtopping, annual: Annual | None) -> TailsCompared | None:
    """None where all dependences are jointly normal."""
    study, assurance = run.study, run.study.content.decision.assurance
    if all(each.tails == "gaussian" for each in study.content.dependence):
        return None
    run.report("the same without tails of their own")
    other: Results = find(Run(_without_tails(study), run.columns, runs=run.model.runs), ANSWERS)
    return TailsCompared(
        _figures(assurance, headwater, overtopping, annual),
        _figures(assurance, other.headwater, other.overtopping, other.annual),
    )


def _summary(found: TailsCompared) -> dict[str, Any]:
    both = {"as_stated": found.stated, "jointly_normal": found.normal}
    return {"tails_of_dependence": {name: _said(each) for name, each in both.items()}}


def _said(figures: Figures) -> dict[str, Any]:
    said = {"probability_of_overtopping": figure(figures.overtopping), "assured_level_m": figure(figures.level)}
    return said if figures.in_a_year is None else {**said, "probability_in_a_year": figure(figures.in_a_year)}


def _tables(found: TailsCompared) -> Tables:
    rows = []
    for name, each in (("as stated", found.stated), ("jointly normal", found.normal)):
        row: dict[str, Any] = {"tails": name, **columns("probability", each.overtopping)}
        row |= columns("assured_level_m", each.level)
        rows.append(row if each.in_a_year is None else row | columns("probability_in_a_year", each.in_a_year))
    return {"tails": pd.DataFrame(rows)}


OUTPUT = Output(find=_find, needs=ANSWERS, tables=_tables, summary=_summary)
