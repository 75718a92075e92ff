"""The ranking of a whole run: each part against a second route."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import overbank
from overbank.model import Model
from overbank.outputs.drivers import TOGETHER, _Ranking, is_surveyed_level
from overbank.outputs.outcome import Outcome
from overbank.report.readings import shared_out
from overbank.run import run
from overbank.sampling.run import Run
from overbank.study.load import read_study
from shared import shared_run
from small import DEPENDENCE, study


@pytest.fixture(scope="module")
def independent(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    asked = ("samples = 4096", "samples = 4096\nsecond_order = true")
    return run(study(tmp_path_factory.mktemp("independent"), (DEPENDENCE, ""), asked), only=("drivers",))


@pytest.fixture(scope="module")
def dependent(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    return shared_run(study(tmp_path_factory.mktemp("dependent")))


def test_shares_of_the_event_agree_with_counted_ones(independent: Outcome) -> None:
    """First order of each input on 0/1 events: means in bins of many independent samples, Var(E[event | bin])."""
    indices = independent.drivers.overtopping
    assert indices is not None
    model = Model(independent.problem)
    _, values = independent.problem.inputs.sample("monte_carlo", 2**17, 5, 1)
    over = (model.levels(values[0]) > model.banks(values[0])).astype(float)
    for row in indices.table[indices.table["input"] != "(dummy)"].itertuples():
        column = values[0][:, independent.problem.inputs.index(str(row.input))]
        order = np.argsort(column, kind="stable")
        means = np.array([part.mean() for part in np.array_split(over[order], 64)])
        counted = np.var(means) / np.var(over) - 63 / 2**17
        assert row.first == pytest.approx(counted, abs=0.03), row.input


def test_without_dependence_there_are_no_shapley_effects(independent: Outcome) -> None:
    assert independent.drivers.shapley is None
    assert independent.drivers.notes == ()


def test_pairs_explain_what_single_inputs_leave_over(independent: Outcome) -> None:
    """All first- and second-order shares together leave only what three inputs do together: little here."""
    level, pairs = independent.drivers.level, independent.drivers.pairs
    assert level is not None
    assert pairs is not None
    assert len(pairs.table) == 5 * 4 / 2
    named = level.table[level.table["input"] != "(dummy)"]
    assert named["first"].sum() + pairs.table["second"].sum() == pytest.approx(1.0, abs=0.02)
    assert independent.drivers.pairs.table.equals(overbank.tables(independent)["second_order"])


WIDE = """\
title = "A wide stream (invented)"
[run]
samples = 8192
second_order = true
[decision]
target_probability = 0.05
assurance = 0.9
[flow]
design_m3_s = { lognormal = { median = 300.0, cov = 0.3610 } }
[tailwater.normal_depth]
bed_level_m = 10.0
slope = 0.002
manning_n = { lognormal = { median = 0.035, cov = 0.2020 } }
section = { shape = "rectangle", width_m = 200.0 }
[[element]]
kind = "channel"
id = "pond"
section = { shape = "rectangle", width_m = 500.0 }
length_m = 1.0
bed_level_m = 0.0
bed_slope = 0.0001
manning_n = 0.02
bank_level_m = 12.0
"""


def test_pairs_of_a_wide_stream(tmp_path: Path) -> None:
    """Closed form of the wide channel, h ~ (Q n)^0.6 with spreads of ln Q and ln n 0.35 and 0.20."""
    (tmp_path / "study.toml").write_text(WIDE, encoding="utf-8")
    pairs = _Ranking(Run(read_study(tmp_path))).pairs()
    assert pairs is not None
    second, low, high = pairs.table[["second", "second_low", "second_high"]].to_numpy()[0]
    error = (high - low) / 2.0 / 2.131  # Student t, 16 replicates
    assert second == pytest.approx(1.0 - 0.748391884 - 0.240753306, abs=4.0 * error)
    assert error < 0.003


def test_pairs_are_refused_where_inputs_depend(tmp_path: Path) -> None:
    asked = ("samples = 4096", "samples = 256\nsecond_order = true")
    found = run(study(tmp_path, asked), only=("drivers",)).drivers
    assert found.pairs is None
    assert any(note.startswith("No second-order indices of the level: the study states a dep") for note in found.notes)


def test_shapley_effects_add_up_under_dependence(dependent: Outcome) -> None:
    found = dependent.drivers.shapley
    assert found is not None
    assert found.table["shapley"].sum() == pytest.approx(1.0, abs=1e-6)
    first = found.table.set_index("input")["first"]
    assert dependent.drivers.given is not None
    sampled = dependent.drivers.given.table.set_index("input")["first"]
    for name in ("flow.design_m3_s", "lane.screen.blockage"):
        assert first[name] == pytest.approx(sampled[name], abs=0.08)
    assert any("Shapley effects honour it" in note for note in dependent.drivers.notes)
    quoted = shared_out(dependent)  # by the sentence of the answer
    assert quoted is not None
    assert quoted[0] is found.table
    assert quoted[1] == "shapley"


def test_shapley_effects_of_the_event_add_up_under_dependence(dependent: Outcome) -> None:
    """And the first-order share of the flow is that of counted samples: Var(E[event | bin]), less the noise of bins."""
    found = dependent.drivers.shapley_of_event
    assert found is not None
    assert found.table["shapley"].sum() == pytest.approx(1.0, abs=1e-6)
    model, inputs = Model(dependent.problem), dependent.problem.inputs
    _, values = inputs.sample("monte_carlo", 2**16, 7, 1)
    over, flow = model.levels(values[0]) > model.banks(values[0]), values[0][:, inputs.index("flow.design_m3_s")]
    shares = over[np.argsort(flow)].reshape(64, -1).mean(axis=1)
    counted = (np.var(shares) - np.mean(shares * (1.0 - shares)) / 1023) / np.var(over)
    row = found.table.set_index("input").loc["flow.design_m3_s"]
    assert row["first"] == pytest.approx(counted, abs=row["first_high"] - row["first_low"])


def test_effects_average_to_the_whole(dependent: Outcome) -> None:
    for output, whole in (
        ("level", float(np.mean(dependent.samples.levels))),
        ("overtopping", dependent.overtopping.best.value),
    ):
        for each in dependent.drivers.effects[output]:
            assert np.average(each.mean, weights=each.samples) == pytest.approx(whole, rel=1e-6), each.input
    along = {each.input: each for each in dependent.drivers.effects["level"]}
    assert np.all(np.diff(along["lane.screen.blockage"].mean[::4]) > 0.0)
    assert "lane.screen.blockage" not in {each.input for each in dependent.drivers.effects["overtopping"]}


def test_surveyed_levels_are_ranked_together(tmp_path: Path) -> None:
    inverts = ("upstream_invert_m = 30.10", "upstream_invert_m = { normal = { mean = 30.10, sd = 0.02 } }")
    found = run(study(tmp_path, (DEPENDENCE, ""), inverts, ("4096", "1024")), only=("drivers",))
    assert is_surveyed_level("lane.barrel.upstream_invert_m")
    assert not is_surveyed_level("tailwater.level_m")
    groups, level = found.drivers.groups, found.drivers.level
    assert groups is not None
    assert level is not None
    assert list(groups.table["input"]) == [TOGETHER]
    total = level.table.set_index("input")["total"]
    parts = total["lane.barrel.upstream_invert_m"] + total["lane.bank_level_m"]
    assert groups.table["total"][0] == pytest.approx(parts, abs=0.01)
