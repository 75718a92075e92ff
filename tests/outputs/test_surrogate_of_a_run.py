"""The formula for the level of a run: exact where the site is linear, and beside the run's own indices."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import overbank
from overbank.model import Model
from overbank.outputs.surrogate import LevelFormula
from pond import FLOW_SD, LEVEL_SD, SHIFT_SD, pond
from small import study


def test_a_linear_site_is_its_own_formula(tmp_path: Path) -> None:
    """level = 10.5 + 0.05 z1 + 0.1 z2: one of the two bases has it exactly."""
    outcome = overbank.run_study(pond(tmp_path, ("samples = 8192", "samples = 1024")), only=("drivers",))
    found = overbank.fit_surrogate(outcome, order=2)
    assert found.fitted.basis == "Hermite polynomials of the normal score"
    assert found.q2 == pytest.approx(1.0, abs=1e-4)
    assert found.q2_as_stated == pytest.approx(1.0, abs=1e-4)
    first = found.indices.set_index("input")["first"]
    assert first["flow.design_m3_s"] == pytest.approx((0.1 * FLOW_SD / LEVEL_SD) ** 2, abs=1e-3)
    assert first["tailwater.rating_shift_m"] == pytest.approx((SHIFT_SD / LEVEL_SD) ** 2, abs=1e-3)
    lines = found.formula().splitlines()
    assert lines[:3] == [
        "level [m] = 10.5",
        "    + 0.1 h1(tailwater.rating_shift_m)",
        "    + 0.05 h1(flow.design_m3_s)",
    ]


@pytest.fixture(scope="module")
def lane(tmp_path_factory: pytest.TempPathFactory) -> tuple[overbank.Outcome, LevelFormula]:
    small = study(tmp_path_factory.mktemp("lane"), ("samples = 4096", "samples = 1024"))
    outcome = overbank.run_study(small, only=("drivers",))
    return outcome, overbank.fit_surrogate(outcome, order=5)


def test_it_foretells_samples_that_it_has_not_seen(lane: tuple[overbank.Outcome, LevelFormula]) -> None:
    outcome, found = lane
    z, values = outcome.problem.inputs.sample("monte_carlo", 4096, 77, 1)
    levels = Model(outcome.problem).levels(values[0])
    q2 = 1.0 - np.mean((levels - found.fitted.predict(z[0])) ** 2) / np.var(levels)
    assert 0.9 < found.q2 < 1.0
    assert found.q2_as_stated == pytest.approx(q2, abs=0.02)


def test_its_indices_stand_beside_those_of_the_run(lane: tuple[overbank.Outcome, LevelFormula]) -> None:
    outcome, found = lane
    assert list(found.indices["input"]) == list(outcome.problem.inputs.names)
    for row in found.indices.itertuples():
        assert row.first == pytest.approx(row.run_first, abs=0.04), row.input
        assert row.total == pytest.approx(row.run_total, abs=0.04), row.input


def test_too_many_terms_are_refused(lane: tuple[overbank.Outcome, LevelFormula]) -> None:
    with pytest.raises(overbank.DomainError, match=r"terms and needs .* samples; got 8192"):
        overbank.fit_surrogate(lane[0], order=13)
