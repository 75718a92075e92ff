"""Every reading of the allowance, held by brute force: independent samples with the blockage set or changed."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from overbank.model import Model
from overbank.outputs.allowances import DEBRIS, Readings
from overbank.outputs.outcome import Outcome
from overbank.report import allowance
from overbank.report.statement import statement
from overbank.run import run
from shared import shared_run
from small import SCREEN, study

COUNTED = 2**16
Values = NDArray[np.float64]


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    return shared_run(study(tmp_path_factory.mktemp("allowances")))


@pytest.fixture(scope="module")
def found(outcome: Outcome) -> Readings:
    assert outcome.allowances is not None
    return outcome.allowances


def counted(outcome: Outcome, blockage: Callable[[Values], Values]) -> tuple[float, Values]:
    """Share of independent samples over the bank, and their levels, with another blockage."""
    model = Model(outcome.problem)
    _, values = outcome.problem.inputs.sample("monte_carlo", COUNTED, 31, 1)
    rows = values[0]
    column = outcome.problem.inputs.index("lane.screen.blockage")
    rows[:, column] = blockage(rows[:, column])
    levels = model.levels(rows)
    return float(np.mean(levels > model.banks(rows))), levels


def four_sigma(probability: float) -> float:
    return 4.0 * math.sqrt(probability * (1.0 - probability) / COUNTED)


def test_the_largest_blockage_gives_the_promised_probability(outcome: Outcome, found: Readings) -> None:
    assert [each.target for each in found.tolerated] == [0.01, 0.05, 0.1, 0.2]
    for each in found.tolerated:
        share, _ = counted(outcome, lambda b, set_to=each.largest.value: np.full_like(b, set_to))  # type: ignore[misc]
        assert share == pytest.approx(each.target, abs=four_sigma(each.target) + 0.004)


def test_the_allowance_gives_the_level_in_one_run_and_the_level_its_assurance(
    outcome: Outcome, found: Readings
) -> None:
    model = Model(outcome.problem)
    _, levels = counted(outcome, lambda b: b)
    for each in found.assured:
        if not each.allowance.note:
            level = model.level_with(found.name, each.allowance.value)
            assert level == pytest.approx(each.level.value, abs=1e-4)
        assert np.mean(levels <= each.level.value) == pytest.approx(
            each.assurance, abs=four_sigma(each.assurance) + 0.002
        )


def test_what_a_fixed_allowance_means(outcome: Outcome, found: Readings) -> None:
    _, levels = counted(outcome, lambda b: b)
    for each in found.fixed:
        assert each.level == Model(outcome.problem).level_with(found.name, each.blockage)
        share = float(np.mean(levels > each.level))
        assert each.exceeded.value == pytest.approx(share, abs=four_sigma(share) + 0.002)
        over, _ = counted(outcome, lambda b, set_to=each.blockage: np.full_like(b, set_to))  # type: ignore[misc]
        assert each.overtopping.value == pytest.approx(over, abs=four_sigma(over) + 0.006)


@pytest.mark.parametrize("place", range(len(DEBRIS)))
def test_other_models_of_the_blockage(outcome: Outcome, found: Readings, place: int) -> None:
    words, power = DEBRIS[place]
    each = found.assumed[place]
    assert each.words == words
    share, levels = counted(outcome, lambda b: 1.0 - (1.0 - b) ** (1.0 / power))
    assert each.probability.value == pytest.approx(share, abs=four_sigma(share) + 0.002)
    below = float(np.mean(levels <= each.level.value))
    assert below == pytest.approx(outcome.assurance, abs=four_sigma(0.1) + 0.003)


def test_as_assumed_is_the_answer_itself(outcome: Outcome, found: Readings) -> None:
    assert outcome.blockage is not None
    own = found.assumed[1]
    assert own.probability.value == pytest.approx(outcome.overtopping.best.value, rel=1e-9)
    assert own.allowance.value == pytest.approx(outcome.blockage.allowance.value, abs=1e-6)


def test_levels_rise_with_blockage_in_every_flood(found: Readings) -> None:
    for each in found.floods:
        levels = list(each.levels.values())
        assert levels == sorted(levels)


def test_the_tables(outcome: Outcome) -> None:
    assert [len(table.lines) for table in allowance.tables(outcome)] == [4, 5, 3, 3]


def test_the_statement_tells_what_the_allowance_itself_would_bring(outcome: Outcome) -> None:
    """With that blockage set, overtopping is counted by the level of every sample."""
    assert outcome.blockage is not None
    allowed = outcome.blockage.allowance.value
    always, _ = counted(outcome, lambda blockage: np.full_like(blockage, allowed))
    said = statement(outcome).replace("\u00a0", " ")
    told = float(re.findall(r"were it always there, the water would go over in ([0-9.]+) %", said)[0])
    assert told == pytest.approx(100.0 * always, abs=1.5)


def test_without_an_uncertain_blockage_there_is_no_reading(tmp_path_factory: pytest.TempPathFactory) -> None:
    from small import DEPENDENCE

    screenless = study(tmp_path_factory.mktemp("bare"), (DEPENDENCE, ""), (SCREEN, ""), ("4096", "256"))
    bare = run(screenless, only=("allowances",))
    assert bare.allowances is None
    assert allowance.tables(bare) == ()
    assert statement(bare) == ""
