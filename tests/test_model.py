"""The site as a function of the table of its uncertain numbers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.model import Model
from overbank.outputs.medians import deterministic_run
from overbank.study.build import build
from small import study


@pytest.fixture
def model(tmp_path: Path) -> Model:
    return Model(build(study(tmp_path)))


def rows_of(model: Model, samples: int) -> np.ndarray:
    return model.problem.inputs.sample("monte_carlo", samples, 5, 1)[1][0]


def test_levels_alone_are_those_of_the_whole_march(model: Model) -> None:
    rows = rows_of(model, 300)
    np.testing.assert_array_equal(model.levels(rows), model.march(rows).element("lane").level)


def test_a_sample_does_not_depend_on_its_neighbours(model: Model) -> None:
    """Bit for bit: alone, in a table, and in another order."""
    rows = rows_of(model, 50)
    together = model.levels(rows)
    np.testing.assert_array_equal([model.levels(row[np.newaxis])[0] for row in rows], together)
    np.testing.assert_array_equal(model.levels(rows[::-1])[::-1], together)


def test_medians_give_the_deterministic_run(model: Model, tmp_path: Path) -> None:
    level = deterministic_run(study(tmp_path)).outcome.element("lane").level[0]
    assert model.levels(model.medians())[0] == level
    blockage = model.problem.inputs.items[model.problem.inputs.index("lane.screen.blockage")]
    assert model.level_with("lane.screen.blockage", blockage.distribution.median) == level


def test_level_rises_with_the_number_that_is_set(model: Model) -> None:
    levels = [model.level_with("lane.screen.blockage", blockage) for blockage in np.linspace(0.0, 1.0, 21)]
    assert np.all(np.diff(levels) >= -1e-9)
    assert levels[-1] > levels[0] + 0.5


def test_banks_are_one_a_sample_whether_certain_or_not(tmp_path: Path) -> None:
    uncertain = Model(build(study(tmp_path / "uncertain")))
    certain = Model(build(study(tmp_path / "certain", ("{ normal = { mean = 32.2, sd = 0.05 } }", "32.2"))))
    assert uncertain.banks(rows_of(uncertain, 200)).std() == pytest.approx(0.05, rel=0.3)
    np.testing.assert_array_equal(certain.banks(rows_of(certain, 7)), np.full(7, 32.2))


def test_numbers_that_follow_others_are_there(model: Model) -> None:
    """The garden's bed was left out: it begins at the inlet invert."""
    numbers = model.numbers(rows_of(model, 3))
    assert numbers["garden.bed_level_m"] == 30.10
    assert np.shape(numbers["flow.design_m3_s"]) == (3,)
