"""The authority's sheet: in a year, over 10, 30 and 50 years, and assurance in named floods, of every arrangement.

Before and after learning from floods seen, and each alternative against the site as it stands on the same random
numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from overbank.analysis import annual as sums
from overbank.analysis.intervals import COMMON, Array, Estimate, over_replicates
from overbank.outputs.annual import YEARS, Annual, annual_floods
from overbank.outputs.comparison import AS_IT_STANDS
from overbank.outputs.in_tables import columns, figure
from overbank.outputs.learnt import NAMED, LearntFromFloods
from overbank.outputs.output import Output, Tables
from overbank.sampling.rare_floods import is_rare
from overbank.sampling.run import Run

TOO_RARE = "of the samples of states and floods, for one of both is too rare to be told by them"


@dataclass(frozen=True)
class Sheet:
    """What an authority prints of an arrangement, or how much more or less it is than as the site stands.

    in_a_year : probability of overtopping
    over : years -> of at least one overtopping in so many
    assurance : annual probability of a flood -> that the water stays below the bank in it
    """

    in_a_year: Estimate
    over: dict[int, Estimate]
    assurance: dict[float, Estimate]


@dataclass(frozen=True)
class InYears:
    """An arrangement and its floods of a year.

    change : against the site as it stands; None for that
    after : learning from the floods that were seen at the site as it stands; None for an alternative, or without any
    """

    name: str
    annual: Annual
    sheet: Sheet
    change: Sheet | None = None
    after: Sheet | None = None


def _find(run: Run, annual: Annual | None, learnt: LearntFromFloods | None) -> tuple[InYears, ...] | None:
    """None where the study has no annual maxima.

    The random numbers are the same in every arrangement that has the same uncertain numbers.
    """
    if annual is None:
        return None
    found = [InYears(AS_IT_STANDS, annual, _sheet(annual), after=_after(learnt))]
    for name in run.study.alternatives:
        run.report(f"the floods of a year: {name}")
        other = Run(run.study.alternative(name), run.columns, runs=run.model.runs)
        given = other.model.problem.annual
        if given is not None:
            own = annual_floods(other.sampling, given)
            found.append(InYears(name, own, _sheet(own), _change(own, annual)))
    return tuple(found)


def _sheet(annual: Annual) -> Sheet:
    over: dict[int, Estimate] = {years: annual.over[years] for years in YEARS}
    floods = {line.annual_probability: line.assurance for line in annual.lines}
    return Sheet(annual.probability, over, {probability: floods[probability] for probability in NAMED})


def _change(own: Annual, base: Annual) -> Sheet:
    """From the differences in each replicate."""
    note = TOO_RARE if is_rare(own.probability) or is_rare(base.probability) else ""

    def paired(each: Array, other: Array) -> Estimate:
        found = over_replicates(np.nanmean(each, axis=1) - np.nanmean(other, axis=1), COMMON)
        return Estimate(found.value, found.low, found.high, COMMON, note or found.note)

    lines = zip(own.lines, base.lines, strict=True)
    return Sheet(
        paired(own.each_state, base.each_state),
        {n: paired(*(sums.over_years_by_state(each.each_state, n, each.inner) for each in (own, base))) for n in YEARS},
        {
            a.annual_probability: over_replicates(a.each - b.each, COMMON)
            for a, b in lines
            if a.annual_probability in NAMED
        },
    )


def _after(learnt: LearntFromFloods | None) -> Sheet | None:
    taught = None if learnt is None else learnt.taught
    if taught is None or taught.year is None:
        return None
    over = {years: both.posterior for years, both in taught.over.items()}
    return Sheet(taught.year.posterior, over, {p: both.posterior for p, both in taught.assurance.items()})


def _summary(found: tuple[InYears, ...]) -> dict[str, Any]:
    return {"arrangements_in_years": {each.name: _in_short(each) for each in found}}


def _in_short(found: InYears) -> dict[str, Any]:
    said = _of_sheet(found.sheet)
    if (life := found.annual.life) is not None:
        said["over_years"] = {"years": life.years, **figure(life.probability)}
    said["assurance"] = {f"{line.annual_probability:g}": figure(line.assurance) for line in found.annual.lines}
    for name, sheet in (("change", found.change), ("after_floods_seen", found.after)):
        if sheet is not None:
            said[name] = _of_sheet(sheet)
    return said


def _of_sheet(sheet: Sheet) -> dict[str, Any]:
    return {
        "probability_in_a_year": figure(sheet.in_a_year),
        **{f"over_{years}_years": figure(each) for years, each in sheet.over.items()},
        "assurance": {f"{probability:g}": figure(each) for probability, each in sheet.assurance.items()},
    }


def _tables(found: tuple[InYears, ...]) -> Tables:
    rows = []
    for each in found:
        life = each.annual.life
        more = {} if life is None else columns(f"over_the_{life.years}_years_of_its_life", life.probability)
        rows.append({"arrangement": each.name, "figures": "as stated", **_row(each.sheet), **more})
        for words, sheet in (("change to as it stands", each.change), ("after the floods seen", each.after)):
            if sheet is not None:
                rows.append({"arrangement": each.name, "figures": words, **_row(sheet)})
    return {"arrangements_in_years": pd.DataFrame(rows)}


def _row(sheet: Sheet) -> dict[str, float]:
    row = columns("in_a_year", sheet.in_a_year)
    for years, each in sheet.over.items():
        row |= columns(f"over_{years}_years", each)
    for probability, each in sheet.assurance.items():
        row |= columns(f"assurance_in_{probability:g}", each)
    return row


OUTPUT = Output(find=_find, needs=("annual", "learnt"), tables=_tables, summary=_summary)
