"""The site as a function of a table: against studies that say the same numbers, and the march itself."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import overbank
from overbank.study.build import build
from small import study

GIVEN = (
    ("lane.screen.gap_m", (0.05, 0.3)),
    ("lane.barrel.upstream_invert_m", (30.05, 30.3)),  # the sill of the screen and the bed above stand on it
    ("flow.design_m3_s", (2.0, 9.0)),
    ("garden.manning_n", (0.03, 0.1)),
)


@pytest.mark.parametrize(("name", "values"), GIVEN)
def test_a_column_does_what_the_same_number_in_the_study_does(
    name: str, values: tuple[float, ...], tmp_path: Path
) -> None:
    first = study(tmp_path)
    found = first.model().levels({name: values})
    for row, value in enumerate(values):
        (said,) = first.with_value(name, value).model().levels().to_dict("records")
        assert found.iloc[row].to_dict() == pytest.approx(said, abs=1e-9)


def test_it_is_the_march_of_a_run(tmp_path: Path) -> None:
    problem = build(study(tmp_path))
    rows = problem.inputs.values(np.random.default_rng(5).standard_normal((64, problem.inputs.dimension)))
    table = pd.DataFrame(rows, columns=list(problem.inputs.names), index=range(100, 164))
    model = study(tmp_path).model()
    levels, results = model.levels(table), model.results(table)
    marched = problem.site.march(problem.numbers(rows), len(rows))
    assert list(levels.index) == list(table.index)
    for element in marched.elements:
        assert np.array_equal(levels[element.id], element.level)
        assert {f"{element.id}.{name}" for name in element.results} <= set(results)
    assert model.uncertain == problem.inputs.names
    assert model.medians["lane.screen.gap_m"] == 0.125


def test_what_is_no_table_of_its_numbers_is_refused(tmp_path: Path) -> None:
    model = study(tmp_path).model()
    with pytest.raises(overbank.DomainError, match=r"got 'lane.screen.blokage'. Did you mean lane.screen.blockage\?"):
        model.levels({"lane.screen.blokage": 0.5})
    with pytest.raises(overbank.DomainError, match=r"columns of one length; got lengths of \[2, 3\]"):
        model.levels({"lane.screen.blockage": [0.0, 0.5, 1.0], "lane.screen.gap_m": [0.1, 0.2]})
    with pytest.raises(overbank.DomainError, match=r"column lane\.screen\.gap_m: expected numbers; got 'wide'"):
        model.levels({"lane.screen.gap_m": ["wide"]})
    assert repr(model).startswith("<SiteModel 'A small study (invented)': ")
