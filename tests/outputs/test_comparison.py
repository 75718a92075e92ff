"""Arrangements on common random numbers: differences against independent counts, and sharper than independent runs."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from overbank.errors import DomainError
from overbank.model import Model
from overbank.outputs.comparison import Comparison
from overbank.outputs.outcome import Outcome
from overbank.run import compare_arrangements, run
from overbank.sampling.run import common_columns
from overbank.study.build import build
from overbank.study.load import Study, read_study
from overbank.words import change, rounded
from small import SMALL, written

COUNTED = 2**16
ALTERNATIVES = """
[[alternative]]
name = "the same again"
set = { "lane.screen.gap_m" = 0.125 }

[[alternative]]
name = "wider gaps, larger screen"
set = { "lane.screen.gap_m" = 0.150, "lane.screen.width_m" = 6.0 }

[[alternative]]
name = "no screen"
remove = ["lane.screen"]
set = { "lane.blockage" = { beta = { a = 1.5, b = 6.0 } } }

[[alternative]]
name = "higher tailwater"
set = { "tailwater.level_m" = { normal = { mean = 31.6, sd = 0.1 } } }
"""


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    text = SMALL.replace("assurance = 0.9", f"assurance = 0.9\ntolerance_m = {TOLERATED}")
    return read_study(written(tmp_path_factory.mktemp("comparing"), text + ALTERNATIVES))


@pytest.fixture(scope="module")
def outcome(study: Study) -> Outcome:
    return run(study, only=("comparison", "overtopping", "blockage"))


@pytest.fixture(scope="module")
def comparison(outcome: Outcome) -> Comparison:
    assert outcome.comparison is not None
    return outcome.comparison


def test_the_site_as_it_stands_is_the_run_itself(outcome: Outcome, comparison: Comparison) -> None:
    first = comparison.arrangements[0]
    assert first.overtopping is outcome.overtopping
    assert first.blockage is outcome.blockage
    assert first.difference is None
    assert comparison.place == "lane"


def test_the_command_makes_the_same_comparison(study: Study) -> None:
    fewer = study.with_samples(128)
    expected = run(fewer, only=("comparison", "overtopping", "blockage")).comparison
    assert expected is not None
    again = compare_arrangements(fewer)
    assert [each.overtopping.best for each in again.arrangements] == [
        each.overtopping.best for each in expected.arrangements
    ]


def test_an_alternative_that_changes_nothing_differs_by_exactly_nothing(comparison: Comparison) -> None:
    difference = comparison.arrangements[1].difference
    assert difference is not None
    for figure in (difference.probability, difference.median, difference.assured, difference.mean):
        assert (figure.value, figure.low, figure.high) == (0.0, 0.0, 0.0)
    for share in (difference.lower, difference.higher, difference.beyond):
        assert share is not None
        assert (share.value, share.low) == (0.0, 0.0)
        # no event in n samples: the exact one-sided limit, 1 - 0.05^(1/n)
        assert share.high == pytest.approx(1.0 - 0.05 ** (1.0 / 4096), rel=1e-9)


TOLERATED = 0.20
"""A rise between those that the alternatives bring [m]."""


def test_rises_beyond_the_tolerance_agree_with_an_independent_count(study: Study, comparison: Comparison) -> None:
    """Both arrangements on the same independent random numbers with another seed, every sample counted."""
    base, other = Model(build(study)), Model(build(study.alternative("higher tailwater")))
    assert base.problem.inputs.names == other.problem.inputs.names
    (levels, higher) = (
        model.levels(model.problem.inputs.sample("monte_carlo", COUNTED, 999, 1)[1][0]) for model in (base, other)
    )
    rises = float(np.mean(higher - levels > TOLERATED))
    difference = comparison.arrangements[-1].difference
    assert difference is not None
    assert difference.beyond is not None
    assert comparison.tolerance == TOLERATED
    assert 0.05 < rises < 0.95
    half = 0.5 * (difference.beyond.high - difference.beyond.low)
    assert difference.beyond.value == pytest.approx(rises, abs=2.0 * half + 4.0 * math.sqrt(0.25 / COUNTED))
    medians = [float(np.median(each)) for each in (levels, higher)]
    assert difference.median.value == pytest.approx(medians[1] - medians[0], abs=0.01)
    assert difference.median.low <= difference.median.value <= difference.median.high


def counted(study: Study) -> tuple[float, float]:
    """Probability of overtopping and mean level on independent samples with another seed."""
    model = Model(build(study))
    _, values = model.problem.inputs.sample("monte_carlo", COUNTED, 999, 1)
    levels = model.levels(values[0])
    return float(np.mean(levels > model.banks(values[0]))), float(np.mean(levels))


@pytest.mark.parametrize("name", ["wider gaps, larger screen", "no screen", "higher tailwater"])
def test_differences_agree_with_independent_counts(study: Study, comparison: Comparison, name: str) -> None:
    base, other = counted(study), counted(study.alternative(name))
    difference = next(each.difference for each in comparison.arrangements if each.name == name)
    assert difference is not None
    spread = 4.0 * math.sqrt((base[0] + other[0]) / COUNTED)
    assert difference.probability.value == pytest.approx(other[0] - base[0], abs=spread)
    assert difference.mean.value == pytest.approx(other[1] - base[1], abs=0.02)


def test_differences_are_sharper_than_those_of_independent_runs(comparison: Comparison) -> None:
    for each in comparison.arrangements[2:]:
        assert each.difference is not None
        plain = [item.overtopping.plain for item in (comparison.arrangements[0], each)]
        apart = math.hypot(*(0.5 * (figure.high - figure.low) for figure in plain))
        assert 0.5 * (each.difference.probability.high - each.difference.probability.low) < 0.5 * apart


def test_they_differ_as_the_trade_expects(comparison: Comparison) -> None:
    """More open area passes the same debris with less loss; a higher tailwater raises the level (energy balance)."""
    _, _, wider, _, drowned = (each.difference for each in comparison.arrangements)
    assert wider is not None
    assert wider.probability.high < 0.0
    assert wider.higher.value == 0.0
    assert drowned is not None
    assert drowned.probability.low > 0.0
    assert drowned.lower.value == 0.0


def test_every_number_has_its_own_column(study: Study) -> None:
    columns = common_columns(study)
    assert columns[: len(build(study).inputs.names)] == build(study).inputs.names
    assert set(columns) == {*build(study).inputs.names, "lane.blockage"}


def test_no_alternative_is_told(tmp_path: Path) -> None:
    with pytest.raises(DomainError, match=r"expected at least one \[\[alternative\]\]"):
        compare_arrangements(read_study(written(tmp_path)))


def test_an_alternative_without_the_bank_is_told(tmp_path: Path) -> None:
    text = SMALL + '\n[[alternative]]\nname = "no bank"\nremove = ["lane.bank_level_m"]\n'
    with pytest.raises(DomainError, match='the alternative "no bank" has no bank at lane'):
        compare_arrangements(read_study(written(tmp_path, text)))


def test_from_the_command_line(tmp_path: Path) -> None:
    from typer.testing import CliRunner

    from overbank.commands.cli import app

    file = written(tmp_path, SMALL.replace("samples = 4096", "samples = 128") + ALTERNATIVES)
    shown = CliRunner().invoke(app, ["compare", str(file)])
    assert shown.exit_code == 0
    assert "wider gaps" in shown.stdout
    told = CliRunner().invoke(app, ["compare", str(file), "--json"])
    rows = json.loads(told.stdout)
    assert [row["arrangement"] for row in rows][:2] == ["as it stands", "the same again"]
    assert rows[1]["change_of_probability"] == 0.0


def test_the_report_shows_them(outcome: Outcome) -> None:
    from overbank.report import arrangements

    lines = arrangements.lines(outcome)
    assert lines[0].name == "as it stands"
    assert lines[0].differences == ()
    arranged = outcome.comparison.arrangements[2]  # type: ignore[union-attr]
    own = arranged.difference
    assert own is not None
    (line,) = [each for each in lines if each.name == arranged.name]
    assert line.differences[0] == change(own.probability, "p")
    assert own.beyond is not None
    assert line.differences[-1] == rounded(own.beyond, "p")
    assert arrangements.tolerance(outcome) == "0.2\u00a0m"
    arrangements.arrangements(outcome)
