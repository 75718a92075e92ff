"""The floods of a year for every alternative, as for the site as it stands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from overbank.outputs.annual import Annual, annual_floods
from overbank.outputs.comparison import AS_IT_STANDS
from overbank.outputs.in_tables import columns, figure
from overbank.outputs.output import Output, Tables
from overbank.sampling.run import Run


@dataclass(frozen=True)
class InYears:
    """An arrangement and its floods of a year."""

    name: str
    annual: Annual


def _find(run: Run, annual: Annual | None) -> tuple[InYears, ...] | None:
    """None where the study has no alternative or no annual maxima.

    The random numbers are the same in every arrangement that has the same uncertain numbers.
    """
    if annual is None or not run.study.alternatives:
        return None
    found = [InYears(AS_IT_STANDS, annual)]
    for name in run.study.alternatives:
        run.report(f"the floods of a year: {name}")
        other = Run(run.study.alternative(name), run.columns, runs=run.model.runs)
        given = other.model.problem.annual
        if given is not None:
            found.append(InYears(name, annual_floods(other.sampling, given)))
    return tuple(found)


def _summary(found: tuple[InYears, ...]) -> dict[str, Any]:
    return {"arrangements_in_years": {each.name: _in_short(each.annual) for each in found}}


def _in_short(annual: Annual) -> dict[str, Any]:
    said: dict[str, Any] = {"probability_in_a_year": figure(annual.probability)}
    if annual.life is not None:
        said["over_years"] = {"years": annual.life.years, **figure(annual.life.probability)}
    said["assurance"] = {f"{line.annual_probability:g}": figure(line.assurance) for line in annual.lines}
    return said


def _tables(found: tuple[InYears, ...]) -> Tables:
    rows = []
    for each in found:
        row: dict[str, Any] = {"arrangement": each.name, **columns("in_a_year", each.annual.probability)}
        if (life := each.annual.life) is not None:
            row |= columns(f"over_{life.years}_years", life.probability)
        for line in each.annual.lines:
            row |= columns(f"assurance_in_{line.annual_probability:g}", line.assurance)
        rows.append(row)
    return {"arrangements_in_years": pd.DataFrame(rows)}


OUTPUT = Output(find=_find, needs=("annual",), tables=_tables, summary=_summary)
