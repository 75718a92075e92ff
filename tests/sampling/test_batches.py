"""Samples that go through in batches give what they give at once; of most of them only the levels are kept.

The batches are of 32 samples of every replicate, and only the first 64 are held in full.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from overbank.analysis.bands import Curve
from overbank.analysis.given_data import first_order
from overbank.analysis.intervals import Estimate
from overbank.files import store
from overbank.files.samples import sample_table
from overbank.model import Model
from overbank.outputs.outcome import Outcome
from overbank.report.register import checks
from overbank.run import run
from overbank.sampling import batches, samples
from small import study

DESIGNS = {"sobol": 1024, "latin_hypercube": 1008, "monte_carlo": 1008}
"""Samples of each design; 1008 in 8 replicates are 126 in each, which batches of 32 do not divide."""


def outcome_of(folder: Path, design: str) -> Outcome:
    folder.mkdir()
    changes = (("samples = 4096", f'samples = {DESIGNS[design]}\ndesign = "{design}"'),)
    return run(study(folder, *changes))


@pytest.fixture(scope="module", params=DESIGNS)
def both(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Outcome, Outcome]]:
    """The run at once, and the run in batches, which stay small while the tests look at it."""
    folder = tmp_path_factory.mktemp("batches")
    with pytest.MonkeyPatch.context() as monkeypatch:
        whole = outcome_of(folder / "whole", request.param)
        monkeypatch.setattr(batches, "BATCH", 256)
        monkeypatch.setattr(samples, "HELD", 2)
        yield whole, outcome_of(folder / "batches", request.param)


def numbers(found: Any) -> list[float]:
    """Every figure of a result, in order."""
    if isinstance(found, Curve):
        return [*found.at, *found.probability, *found.low, *found.high]
    if isinstance(found, Estimate):
        return [found.value, found.low, found.high]
    return [number for field in fields(found) for number in numbers(getattr(found, field.name))]


def test_only_some_are_held(both: tuple[Outcome, Outcome]) -> None:
    whole, parts = both
    assert whole.samples.values.shape[1] == whole.samples.levels.shape[1]
    assert parts.samples.values.shape[:2] == (8, 64)
    assert parts.samples.levels.shape == whole.samples.levels.shape


@pytest.mark.parametrize(
    "figures",
    [
        lambda outcome: [outcome.overtopping.threshold, outcome.overtopping.plain],
        lambda outcome: [each.probability for each in outcome.places.each] + [outcome.places.any, outcome.places.all],
        lambda outcome: [each.first for each in outcome.places.each],
        lambda outcome: [*outcome.headwater.quantiles.values(), outcome.headwater.curve, outcome.headwater.plain],
        lambda outcome: [outcome.blockage.fixed, outcome.blockage.largest, outcome.blockage.allowance],
        lambda outcome: [each.largest for each in outcome.allowances.tolerated],
        lambda outcome: [figure for each in outcome.allowances.assumed for figure in (each.probability, each.level)],
        lambda outcome: [figure for each in outcome.convergence.values() for _, figure in each.way],
    ],
    ids=["overtopping", "places", "first", "level", "blockage", "tolerated", "assumed", "settled"],
)
def test_the_answers_are_those_of_all_samples(both: tuple[Outcome, Outcome], figures: Any) -> None:
    """The samples held are enough for the same rungs of the ladder, so that only sums in another order differ."""
    whole, parts = (np.concatenate([numbers(each) for each in figures(outcome)]) for outcome in both)
    assert np.count_nonzero(np.isfinite(whole)) > 0
    np.testing.assert_allclose(parts, whole, rtol=1e-9, atol=1e-9)


def test_the_report_says_what_looks_at_a_part(both: tuple[Outcome, Outcome]) -> None:
    whole, parts = ({check.what: check.found for check in checks(outcome)} for outcome in both)
    assert "Samples looked at" not in whole
    assert parts["Samples looked at"].endswith("from the first 512")


def test_levels_are_the_same(both: tuple[Outcome, Outcome]) -> None:
    whole, parts = both
    np.testing.assert_allclose(parts.samples.levels, whole.samples.levels, rtol=1e-12)
    np.testing.assert_allclose(parts.samples.depth_over_bank, whole.samples.depth_over_bank, rtol=0.0, atol=1e-9)


def test_what_is_held_belongs_together(both: tuple[Outcome, Outcome]) -> None:
    """Levels are those of the numbers beside them, and what looks at both looks at these."""
    _, parts = both
    values, levels = parts.samples.values, parts.samples.levels[:, :64]
    again = Model(parts.problem).levels(values.reshape(-1, values.shape[2]))
    np.testing.assert_allclose(levels.ravel(), again, rtol=1e-12)
    assert parts.drivers.given is not None
    expected = first_order(values, levels, parts.problem.inputs.names)
    pd.testing.assert_frame_equal(parts.drivers.given.table, expected.table)


def test_every_sample_is_in_the_table(both: tuple[Outcome, Outcome]) -> None:
    """The same rows, in another order: those held in full first."""
    order = ["replicate", "flow.design_m3_s"]
    whole, parts = (sample_table(outcome).sort_values(order, ignore_index=True) for outcome in both)
    assert len(whole) == len(parts) == whole.drop_duplicates().shape[0]
    pd.testing.assert_frame_equal(parts, whole, rtol=1e-12)


def test_a_batch_is_a_group_of_rows(both: tuple[Outcome, Outcome], tmp_path: Path) -> None:
    _, parts = both
    store.write_tables(parts, tmp_path)
    written = pd.read_parquet(tmp_path / "samples.parquet")
    pd.testing.assert_frame_equal(written, sample_table(parts))


def test_the_same_seed_gives_the_same_bits(both: tuple[Outcome, Outcome], tmp_path: Path) -> None:
    _, parts = both
    again = outcome_of(tmp_path / "again", parts.study.content.run.design)
    np.testing.assert_array_equal(again.samples.levels, parts.samples.levels)
    np.testing.assert_array_equal(again.headwater.curve.probability, parts.headwater.curve.probability)
