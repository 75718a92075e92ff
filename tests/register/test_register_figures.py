"""The figures of a structure against its own study, run in full, and against brute force over its site."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import beta, norm

from overbank.model import Model
from overbank.register.figures import Figures, figures_of, points_of
from overbank.register.reading import study_text
from overbank.register.rows import study_of, uncertain_names, values_of
from overbank.run import run
from overbank.study.build import build
from overbank.study.load import Study, make_study
from registers import read

ROWS = ("mill", "ford", "sill")

POLISH = 2e-4
"""The short ladder finds critical values to 1e-4 of its range, a full run to 1e-5: where nothing but the integrated
input matters that is more than the sampling error."""


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Study, Figures]]:
    """The figures of the rows, each with its study as `--study` writes it."""
    folder = tmp_path_factory.mktemp("register")
    register, said = read(folder)
    names, figures = uncertain_names(register, said), {}
    for entry in register.entries:
        study = study_of(entry, values_of(entry, said), said, folder)
        written = make_study(study_text(register, said, entry.id), folder)
        figures[entry.id] = (written, figures_of(study, points_of(names, study.content.run)))
    return figures


@pytest.mark.parametrize("name", ROWS)
def test_a_row_agrees_with_its_study_run_in_full(found: dict[str, tuple[Study, Figures]], name: str) -> None:
    study, figures = found[name]
    whole = run(study, only=("overtopping", "headwater", "blockage"))
    best = whole.overtopping.best
    assert figures.integrated == whole.overtopping.integrated
    room = POLISH * best.value
    assert figures.probability.low <= best.high + room
    assert best.low <= figures.probability.high + room
    for share, level in figures.levels.items():
        other = whole.headwater.quantiles[share]
        assert max(level.low, other.low) <= min(level.high, other.high), share
    if whole.blockage is None:
        assert figures.allowance is None
    else:
        assert figures.allowance.value == pytest.approx(whole.blockage.allowance.value, abs=0.03, nan_ok=True)
        assert figures.largest.value == pytest.approx(whole.blockage.largest.value, abs=0.02)


def test_brute_force_over_the_site(found: dict[str, tuple[Study, Figures]]) -> None:
    """Plain Monte Carlo in NumPy over the site of `mill`: its numbers drawn here, not by the program."""
    study, figures = found["mill"]
    rng, count = np.random.default_rng(1), 40_000
    problem = build(study)
    drawn = {
        "flow.design_m3_s": 3.0 * np.exp(np.sqrt(np.log1p(0.35**2)) * rng.standard_normal(count)),
        "tailwater.level_m": norm(10.6, 0.05).rvs(count, random_state=rng),
        "culvert.barrel.manning_n": norm(0.014, 0.001).rvs(count, random_state=rng),
        "culvert.screen.blockage": np.where(
            (u := rng.random(count)) < 0.05, 0.0, np.where(u > 0.8, 1.0, beta(2.0, 1.8).rvs(count, random_state=rng))
        ),
    }
    table = np.column_stack([drawn[name] for name in problem.inputs.names])
    levels = Model(problem).levels(table)
    share = np.mean(levels > 12.0)
    error = 1.96 * np.sqrt(share * (1.0 - share) / count)
    assert figures.probability.low - error < share < figures.probability.high + error
    for quantile, level in figures.levels.items():
        assert np.quantile(levels, quantile) == pytest.approx(level.value, abs=0.02)
    name, index = figures.drivers[0]
    column, finite = drawn[name], np.isfinite(levels)
    order = np.argsort(column[finite], kind="stable")
    means = np.array([part.mean() for part in np.array_split(levels[finite][order], 50)])
    assert index == pytest.approx(means.var() / levels[finite].var(), abs=0.08)


def test_every_structure_is_sampled_on_the_same_points(found: dict[str, tuple[Study, Figures]]) -> None:
    """Two rows that differ in the bank alone: the higher one goes over in no state where the lower does not."""
    study, lower = found["mill"]
    points = points_of(tuple(sorted(build(study).inputs.names)), study.content.run)
    low, high = (figures_of(study.with_value("culvert.bank_level_m", bank), points) for bank in (12.0, 12.2))
    assert np.all(high.states <= low.states + 1e-9)
    assert 0.0 < high.probability.value < low.probability.value
    assert low.probability.value == pytest.approx(lower.probability.value, abs=0.03)
