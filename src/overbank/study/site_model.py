"""A study's site as a function for those who work from Python: tables of numbers in, levels out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from overbank.errors import DomainError
from overbank.site.row import SiteOutcome
from overbank.study.build import Problem
from overbank.study.reading.refusals import list_of, nearest

Array = NDArray[np.float64]


class SiteModel:
    """The site of a study as a function of its numbers.

        model = overbank.read_study("studies/quillet-lane").model()
        model.levels({"lane.screen.blockage": [0.0, 0.5, 0.9]})

    A table is a DataFrame, or a mapping of columns, by the dotted names of numbers. Any number of the site may be a
    column, certain or uncertain; what has none stands at its value, or at its median. Single numbers and columns
    go together.
    """

    def __init__(self, title: str, problem: Problem) -> None:
        self.title = title
        self._problem = problem

    def __repr__(self) -> str:
        return f"<SiteModel {self.title!r}: {len(self.medians)} numbers, {len(self.uncertain)} of them uncertain>"

    @property
    def uncertain(self) -> tuple[str, ...]:
        """Names of the uncertain numbers."""
        return self._problem.inputs.names

    @property
    def medians(self) -> pd.Series:
        """Every number of the site by its dotted name, the uncertain ones at their medians."""
        return pd.Series({name: float(value) for name, value in self._problem.medians().items()})

    def levels(self, table: pd.DataFrame | Mapping[str, Any] | None = None) -> pd.DataFrame:
        """Level just upstream of every element [m]: a row for each of the table, a column an element.

        `inf` where there is no way through, `nan` where a formula gave no number.

        Raises
        ------
        DomainError : a column that is no number of the site, or columns of unequal length
        """
        outcome, rows = self._march(table)
        return pd.DataFrame({element.id: element.level for element in outcome.elements}, index=rows)

    def results(self, table: pd.DataFrame | Mapping[str, Any] | None = None) -> pd.DataFrame:
        """Everything that each element tells, a column for each by `element.name`. See `levels`."""
        outcome, rows = self._march(table)
        columns = {
            f"{element.id}.{name}": values for element in outcome.elements for name, values in element.results.items()
        }
        return pd.DataFrame(columns, index=rows)

    def _march(self, table: pd.DataFrame | Mapping[str, Any] | None) -> tuple[SiteOutcome, pd.Index]:
        frame = _frame(table)
        known = self._problem.medians()
        for name in frame:
            if name not in known:
                near = nearest(str(name), tuple(known))
                remedy = f"Did you mean {near}?" if near else f"The uncertain ones are {list_of(self.uncertain)}."
                raise DomainError(f"the table: expected columns that are numbers of the site; got {name!r}. {remedy}")
        columns = {str(name): _numbers(str(name), frame[name]) for name in frame}
        inputs = dict(zip(self.uncertain, self._problem.inputs.medians(), strict=True))
        return self._problem.site.march(self._problem.with_numbers({**inputs, **columns}), len(frame)), frame.index


def _frame(table: pd.DataFrame | Mapping[str, Any] | None) -> pd.DataFrame:
    """The table as a DataFrame; one row where nothing is given but single numbers."""
    if isinstance(table, pd.DataFrame):
        return table
    columns = dict(table or {})
    lengths = {len(values) for values in columns.values() if np.ndim(values)}
    if len(lengths) > 1:
        raise DomainError(f"the table: expected columns of one length; got lengths of {sorted(lengths)}. Give as many.")
    return pd.DataFrame(columns, index=pd.RangeIndex(lengths.pop() if lengths else 1))


def _numbers(name: str, column: pd.Series) -> Array:
    try:
        return np.ascontiguousarray(column, dtype=float)
    except (TypeError, ValueError):
        raise DomainError(f"the table, column {name}: expected numbers; got {column.iloc[0]!r} among them.") from None
