"""A whole run on a small study: each headline figure met by a second, independent route."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.stats import lognorm, norm

from overbank.commands.terminal import show_answer
from overbank.errors import DomainError
from overbank.model import Model
from overbank.outputs.drivers import MOST_CROSSED, crossed_samples
from overbank.outputs.medians import deterministic_run
from overbank.outputs.outcome import Outcome
from overbank.outputs.registry import HEADLINES
from overbank.run import run
from overbank.sampling.run import level_grid
from overbank.study.build import build
from overbank.study.load import Study
from shared import shared_run
from small import BLOCKAGE, DEPENDENCE, FLOW, ROAD, SCREEN, study

COUNTED = 2**16
"""Independent samples of the plain counts."""


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Study:
    return study(tmp_path_factory.mktemp("small"))


@pytest.fixture(scope="module")
def outcome(small: Study) -> Outcome:
    return shared_run(small)


def fresh_rows(model: Model) -> NDArray[np.float64]:
    """Independent random samples with another seed: they share nothing with the run."""
    _, values = model.problem.inputs.sample("monte_carlo", COUNTED, 999, 1)
    return values[0]


def share_over(model: Model, rows: NDArray[np.float64]) -> float:
    """Plain count of samples above the bank."""
    return float(np.mean(model.levels(rows) > model.banks(rows)))


def four_sigma(probability: float) -> float:
    return 4.0 * math.sqrt(probability * (1.0 - probability) / COUNTED)


def test_threshold_method_agrees_with_the_plain_count_of_its_own_samples(outcome: Outcome) -> None:
    over = outcome.overtopping
    assert over.threshold is not None
    assert over.agree
    assert over.integrated == "lane.screen.blockage"
    assert over.fallen == 0
    assert over.threshold.high - over.threshold.low < 0.3 * (over.plain.high - over.plain.low)


def test_threshold_method_agrees_with_a_large_independent_count(outcome: Outcome) -> None:
    model = Model(outcome.problem)
    counted = share_over(model, fresh_rows(model))
    best = outcome.overtopping.best
    assert abs(best.value - counted) < four_sigma(counted) + 0.5 * (best.high - best.low)


def test_levels_with_an_assurance_agree_with_a_large_independent_count(outcome: Outcome) -> None:
    model = Model(outcome.problem)
    levels = model.levels(fresh_rows(model))
    for assurance, level in outcome.headwater.quantiles.items():
        share = float(np.mean(levels <= level.value))
        assert abs(share - assurance) < four_sigma(assurance) + 0.002, assurance


def test_blockage_set_to_the_largest_allowed_meets_the_target(outcome: Outcome) -> None:
    assert outcome.blockage is not None
    model = Model(outcome.problem)
    rows = fresh_rows(model)
    column = outcome.problem.inputs.index(outcome.blockage.name)
    shares = []
    for blockage in (outcome.blockage.largest.low, outcome.blockage.largest.value, outcome.blockage.largest.high):
        rows[:, column] = blockage
        shares.append(share_over(model, rows))
    assert shares[0] - four_sigma(0.05) <= outcome.target <= shares[2] + four_sigma(0.05)
    assert shares[1] == pytest.approx(outcome.target, abs=four_sigma(0.05) + 0.002)


def test_allowance_reproduces_the_assured_level_in_one_ordinary_run(outcome: Outcome, tmp_path: Path) -> None:
    assert outcome.blockage is not None
    allowance = outcome.blockage.allowance.value
    certain = study(tmp_path, (BLOCKAGE, f"blockage = {allowance!r}"), (DEPENDENCE, ""))
    level = deterministic_run(certain).outcome.element("lane").level[0]
    assert level == pytest.approx(outcome.headwater.quantiles[0.9].value, abs=1e-4)


def test_dependence_raises_the_probability_and_tells_set_from_met(outcome: Outcome, tmp_path: Path) -> None:
    independent = run(study(tmp_path, (DEPENDENCE, "")), only=HEADLINES)
    assert independent.overtopping.best.high < outcome.overtopping.best.low
    assert independent.blockage is not None
    assert independent.blockage.given is None
    assert outcome.blockage is not None
    assert outcome.blockage.given is not None
    given, fixed = outcome.blockage.given.probability, outcome.blockage.fixed.probability
    assert given[0] < fixed[0]  # a clean screen: probably a small flood
    assert given[60] > fixed[60]  # much debris: probably a large one


def test_probability_given_a_clean_screen_agrees_with_counted_samples(tmp_path: Path) -> None:
    """Clean is an atom of the blockage, so that samples with exactly that blockage can be counted."""
    found = run(study(tmp_path, ("median = 6.0", "median = 8.0")), only=("blockage",))
    assert found.blockage is not None
    assert found.blockage.given is not None
    model = Model(found.problem)
    rows = fresh_rows(model)
    clean = rows[rows[:, found.problem.inputs.index("lane.screen.blockage")] == 0.0]
    counted = share_over(model, clean)
    spread = 4.0 * math.sqrt(counted * (1.0 - counted) / len(clean))
    assert 0.01 < counted < 0.5
    assert found.blockage.given.probability[0] == pytest.approx(counted, abs=spread)


def test_drivers_are_those_of_a_plain_regression(outcome: Outcome) -> None:
    """The two inputs with the largest total indices are also those best correlated with the level."""
    assert outcome.drivers.level is not None
    table = outcome.drivers.level.table.set_index("input")
    leading = set(table["total"].drop("(dummy)").nlargest(2).index)
    names = outcome.problem.inputs.names
    values = outcome.samples.values.reshape(-1, len(names))
    correlation = [abs(np.corrcoef(column, outcome.samples.levels.ravel())[0, 1]) for column in values.T]
    assert leading == {names[i] for i in np.argsort(correlation)[-2:]}


def test_one_uncertain_flow_has_the_closed_form_of_its_capacity(tmp_path: Path) -> None:
    """P(overtop) = P(Q >= q*), q* by a root solve of its own; the level with 90 % is that of the flow with 90 %."""
    one = study(
        tmp_path,
        (DEPENDENCE, ""),
        (SCREEN, ""),
        ('{ normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }', "31.0"),
        ("{ normal = { mean = 32.2, sd = 0.05 } }", "32.2"),
        ('{ lognormal = { median = 0.05, cov = 0.2 }, basis = "invented" }', "0.05"),
    )
    found = run(one, only=HEADLINES)
    model = Model(found.problem)

    def level(flow: float) -> float:
        return model.level_with("flow.design_m3_s", flow)

    capacity = brentq(lambda flow: level(flow) - 32.2, 5.0, 40.0, xtol=1e-9)
    flood = lognorm(s=math.sqrt(math.log1p(0.2**2)), scale=6.0)
    assert found.overtopping.integrated == "flow.design_m3_s"
    assert found.overtopping.threshold is not None
    assert found.overtopping.threshold.value == pytest.approx(float(flood.sf(capacity)), rel=1e-3)
    assert found.headwater.quantiles[0.9].value == pytest.approx(level(float(flood.ppf(0.9))), abs=0.002)


def test_without_an_uncertain_blockage_there_is_no_blockage_answer(tmp_path: Path) -> None:
    found = shared_run(study(tmp_path, (DEPENDENCE, ""), (SCREEN, "")))
    assert found.blockage is None
    assert found.overtopping.integrated == "flow.design_m3_s"
    model = Model(found.problem)
    counted = share_over(model, fresh_rows(model))
    assert found.overtopping.best.value == pytest.approx(counted, abs=four_sigma(counted) + 1e-4)


CERTAIN = ((DEPENDENCE, ""), (SCREEN, ""), (FLOW, "design_m3_s = 9.5"))
TAILWATER = '{ normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }'
BANK = "{ normal = { mean = 32.2, sd = 0.05 } }"


def test_without_flow_and_blockage_the_bank_is_integrated_out(tmp_path: Path) -> None:
    """The level is certain, so that P = Phi((level - mean)/sd) (closed form)."""
    found = run(study(tmp_path, *CERTAIN, (TAILWATER, "31.0")), only=HEADLINES)
    assert found.overtopping.integrated == "lane.bank_level_m"
    level = float(found.deterministic.element("lane").level[0])
    assert found.overtopping.best.value == pytest.approx(float(norm.cdf((level - 32.2) / 0.05)), rel=1e-3)
    assert found.headwater.quantiles[0.9].value == pytest.approx(level, abs=1e-3)


def test_where_nothing_matters_at_the_place_the_plain_count_is_made_alone(tmp_path: Path) -> None:
    found = run(study(tmp_path, *CERTAIN, (TAILWATER, "31.0"), (BANK, "32.2")), only=HEADLINES)
    assert found.overtopping.integrated is None
    assert found.overtopping.threshold is None
    assert (found.overtopping.plain.value, found.overtopping.best.high) == (0.0, 0.0)  # both corners are one run
    assert found.headwater.curve is found.headwater.plain


def test_a_blockage_above_the_place_is_not_integrated_out(tmp_path: Path) -> None:
    """It does nothing to the level at the place; the flow below it does."""
    upper = """
[[element]]
kind = "culvert"
id = "mill"
barrel = { shape = "box", span_m = 3.0, rise_m = 2.0, length_m = 5.0, upstream_invert_m = 30.5, downstream_invert_m = 30.45, manning_n = 0.014 }
inlet = { edge = "wingwalls 30 to 75 deg" }
blockage = { beta = { a = 2.0, b = 5.0 } }
"""  # noqa: E501
    text = (DEPENDENCE, upper), (SCREEN, "")
    assert run(study(tmp_path, *text), only=("overtopping",)).overtopping.integrated == "flow.design_m3_s"


@pytest.fixture(scope="module")
def endless(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """No way over the screen and no road: when it is shut, nothing bounds the level."""
    shut = BLOCKAGE.replace("at_one = 0.05", "at_one = 0.12")
    folder = tmp_path_factory.mktemp("endless")
    few = ("samples = 4096", "samples = 1024")
    return shared_run(study(folder, few, ("overflow = true", "overflow = false"), (ROAD, ""), (BLOCKAGE, shut)))


def test_a_shut_screen_without_a_way_round_overtops(endless: Outcome) -> None:
    levels = endless.samples.levels
    assert np.mean(np.isposinf(levels)) == pytest.approx(0.12, abs=0.01)
    assert not np.any(np.isnan(levels))
    assert endless.overtopping.best.value > 0.12
    assert endless.overtopping.agree
    assert endless.blockage is not None
    assert endless.blockage.fixed.probability[-1] == 1.0


def test_a_level_that_nothing_bounds_is_said_to_be_endless(
    endless: Outcome, capsys: pytest.CaptureFixture[str]
) -> None:
    """With 12 % shut, no finite level is safe with 90 %: no allowance gives it, and the note says so."""
    assert endless.headwater.quantiles[0.9].value == math.inf
    assert endless.headwater.quantiles[0.8].value < math.inf
    assert endless.blockage is not None
    assert math.isnan(endless.blockage.allowance.value)
    assert endless.blockage.allowance.note.startswith("none: no blockage up to 1 raises the median run")
    assert any("no way through" in note for note in endless.drivers.notes)
    show_answer(endless)
    assert "nan" not in capsys.readouterr().out


def test_a_study_without_uncertain_numbers_is_refused_in_words(tmp_path: Path) -> None:
    certain = study(
        tmp_path,
        (DEPENDENCE, ""),
        (SCREEN, ""),
        (FLOW, "design_m3_s = 6.0"),
        ('{ normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }', "31.0"),
        ("{ normal = { mean = 32.2, sd = 0.05 } }", "32.2"),
        ('{ lognormal = { median = 0.05, cov = 0.2 }, basis = "invented" }', "0.05"),
    )
    with pytest.raises(DomainError, match="at least one uncertain number"):
        run(certain)


@pytest.mark.parametrize(("samples", "replicates"), [(4096, 8), (49152, 12), (2**20, 16), (60000, 6), (512, 256)])
def test_crossed_samples_keep_the_design(samples: int, replicates: int) -> None:
    """A power of two in each replicate stays one; more than the limit is never crossed."""
    crossed = crossed_samples(samples, replicates, MOST_CROSSED)
    each = crossed // replicates
    assert crossed == each * replicates
    assert replicates <= crossed <= min(samples, MOST_CROSSED)
    if math.log2(samples // replicates).is_integer():
        assert math.log2(each).is_integer()


def test_twelve_replicates_of_more_samples_than_are_crossed_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("overbank.outputs.drivers.MOST_CROSSED", 2048)
    twelve = study(tmp_path, ("samples = 4096\nreplicates = 8", "samples = 3072\nreplicates = 12"))
    found = run(twelve, only=("drivers",))
    assert found.drivers.level is not None
    assert found.drivers.level.rows == 1536


@pytest.mark.parametrize("design", ["monte_carlo", "latin_hypercube"])
def test_other_designs_give_the_same_answer(outcome: Outcome, tmp_path: Path, design: str) -> None:
    found = run(study(tmp_path, ("seed = 11", f'seed = 12\ndesign = "{design}"')), only=("overtopping",))
    best, other = outcome.overtopping.best, found.overtopping.best
    assert abs(best.value - other.value) < 1.5 * (other.high - other.low)


def test_level_grid_is_not_stretched_by_a_few_levels_far_out() -> None:
    """One level of 500 m among thousands between 30 and 31 m must not cost the curve its resolution."""
    levels = np.append(np.linspace(30.0, 31.0, 4000), [500.0, np.inf, np.nan])
    grid = level_grid(levels, np.array([30.8]), 0.9)
    assert np.all(np.diff(grid) > 0.0)
    assert np.max(np.diff(grid[(grid > 30.0) & (grid < 31.0)])) < 0.01
    assert 30.8 in grid


def test_level_grid_reaches_a_bank_above_all_levels_and_the_wanted_assurance() -> None:
    levels = np.linspace(30.0, 31.0, 100_000)
    assert level_grid(levels, np.array([33.0]), 0.9)[-1] >= 33.0
    assert np.any(level_grid(levels, np.array([30.5]), 0.99995) >= np.quantile(levels, 0.99995))


def test_stages_are_told_and_timed(tmp_path: Path) -> None:
    told: list[str] = []
    found = run(study(tmp_path, ("samples = 4096", "samples = 512")), told.append)
    assert told == list(found.seconds)
    assert all(0.0 <= seconds < 60.0 for seconds in found.seconds.values())


def test_run_counts_its_model_runs(outcome: Outcome) -> None:
    """More than own samples, a ladder over 13 blockages and the crossed tables; the most for all else together."""
    n, d = 4096, outcome.problem.inputs.dimension
    least = n * (1 + 13 + d + 2)
    shapley, of_event = outcome.drivers.shapley, outcome.drivers.shapley_of_event
    assert shapley is not None
    assert of_event is not None
    ladders = 12 * (n * (d + 1) + of_event.runs)  # of the event: a short ladder and its polish for every crossed row
    assert least < outcome.runs < least + shapley.runs + ladders + 12 * n + 300 * 1024


WRITE = """
import sys
from pathlib import Path
from overbank.run import run
from overbank.files.store import write_tables
from overbank.study.load import read_study
folder = Path(sys.argv[2])
folder.mkdir()
write_tables(run(read_study(sys.argv[1])), folder)
"""


def test_same_seed_same_bits_on_one_thread_and_on_two(tmp_path: Path) -> None:
    """Every table of two processes, byte for byte."""
    small = study(tmp_path, ("samples = 4096", "samples = 256"))
    written: list[dict[str, bytes]] = []
    for number, threads in enumerate(("1", "2")):
        folder = tmp_path / str(number)
        command = [sys.executable, "-c", WRITE, str(small.path), str(folder)]
        subprocess.run(command, check=True, env={"OVERBANK_THREADS": threads, **_environment()}, timeout=120)
        written.append({path.name: path.read_bytes() for path in folder.iterdir()})
    assert {"exceedance.csv", "overtopping_by_blockage.csv", "sensitivity.csv"} <= set(written[0])
    assert written[0] == written[1]


def _environment() -> dict[str, str]:
    return {name: value for name, value in os.environ.items() if name != "OVERBANK_THREADS"}


def test_another_seed_gives_other_samples_and_the_same_answer(outcome: Outcome, tmp_path: Path) -> None:
    other = run(study(tmp_path, ("seed = 11", "seed = 12")), only=("overtopping",))
    assert not np.array_equal(other.samples.values, outcome.samples.values)
    best, again = outcome.overtopping.best, other.overtopping.best
    assert abs(best.value - again.value) < 2.0 * (best.high - best.low)


def test_problem_is_that_of_the_study(outcome: Outcome, small: Study) -> None:
    assert outcome.problem.inputs.names == build(small).inputs.names
    assert outcome.place == "lane"
