"""Surveys and the worth of knowing in whole runs, against closed forms and independent samples."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtr
from scipy.stats import norm

from overbank.model import Model
from overbank.outputs.outcome import Outcome
from overbank.outputs.surveys import Surveys
from overbank.run import run
from pond import BANK, DESIGN, FLOW_SD, LEVEL, LEVEL_SD, SHIFT, SHIFT_SD, pond
from small import study

BAND = 2.0 * norm.ppf(0.95)
LOSS, COST = 100_000.0, 20_000.0
MONEY = ("assurance = 0.9", f"assurance = 0.9\nloss_if_overtopped = {LOSS}\ncost_of_acting = {COST}")
OVER = float(norm.sf((BANK - LEVEL) / LEVEL_SD))
"""Probability of overtopping at the pond."""


def offered(line: str, after: float, cost: float) -> tuple[str, str]:
    """The line of a number with a survey on offer."""
    return line, line.replace(', basis = "invented"', f", survey = {{ sd_after = {after}, cost = {cost} }}")


def surveys(outcome: Outcome) -> Surveys:
    assert outcome.surveys is not None
    return outcome.surveys


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """Surveys of both inputs of the pond, one of which is integrated out, and money."""
    folder = tmp_path_factory.mktemp("both")
    return run(pond(folder, offered(DESIGN, 0.2, 500.0), offered(SHIFT, 0.03, 400.0), MONEY), only=("surveys",))


@pytest.mark.parametrize(
    ("name", "sd", "after"),
    [("flow.design_m3_s", 0.1 * FLOW_SD, 0.02), ("tailwater.rating_shift_m", SHIFT_SD, 0.03)],
)
def test_bands_and_spreads_of_a_linear_site(both: Outcome, name: str, sd: float, after: float) -> None:
    """Level = sum of two independent normal numbers: everything in closed form, but one quadrature."""
    found = next(each for each in surveys(both).narrowings if each.input == name)
    left = math.sqrt(LEVEL_SD**2 - sd**2 + after**2)
    assert found.band_before.value == pytest.approx(BAND * LEVEL_SD, abs=0.006)
    assert found.band_after.value == pytest.approx(BAND * left, abs=0.006)
    assert found.narrowing.value == pytest.approx(BAND * (LEVEL_SD - left), abs=0.004)
    known = math.sqrt(sd**2 - after**2)
    k = np.linspace(-8.0, 8.0, 4001)
    over = ndtr((LEVEL + known * k - BANK) / left)
    spread = math.sqrt(np.average((over - OVER) ** 2, weights=norm.pdf(k)))
    assert found.probability_spread.value == pytest.approx(spread, abs=0.006)
    assert found.per_cost.value == pytest.approx(found.narrowing.value / found.cost)


def test_the_better_survey_comes_first(both: Outcome) -> None:
    assert [each.input for each in surveys(both).narrowings] == ["tailwater.rating_shift_m", "flow.design_m3_s"]


def test_worth_of_knowing_a_linear_site(both: Outcome) -> None:
    """Gain d = L p - C; worth = E[max(0, E[d | x])] - max(0, E[d]) by quadrature over what becomes known."""
    worth = surveys(both).worth
    assert worth is not None
    today = LOSS * OVER - COST
    assert worth.decision.gain.value == pytest.approx(today, abs=300.0)
    assert worth.decision.better == "keep as it is"
    assert worth.decision.everything.value == pytest.approx(OVER * (LOSS - COST) - max(0.0, today), rel=0.03)

    def of_knowing(known: float) -> float:
        k = np.linspace(-8.0, 8.0, 4001)
        over = ndtr((LEVEL + known * k - BANK) / math.sqrt(LEVEL_SD**2 - known**2))
        return float(np.average(np.maximum(0.0, LOSS * over - COST), weights=norm.pdf(k))) - max(0.0, today)

    exact = {each.input: each.worth.value for each in worth.inputs}
    assert exact["tailwater.rating_shift_m"] == pytest.approx(of_knowing(SHIFT_SD), rel=0.05)
    assert exact["flow.design_m3_s"] == pytest.approx(of_knowing(0.1 * FLOW_SD), rel=0.05)
    told = {each.input: each.worth.value for each in worth.surveys}
    assert told["tailwater.rating_shift_m"] == pytest.approx(of_knowing(math.sqrt(SHIFT_SD**2 - 0.03**2)), rel=0.06)
    assert told["flow.design_m3_s"] == pytest.approx(of_knowing(0.1 * math.sqrt(FLOW_SD**2 - 0.2**2)), rel=0.06)


def test_surveying_the_only_uncertain_number_leaves_nothing(tmp_path: Path) -> None:
    certain = (SHIFT, "rating_shift_m = 0.0")
    found = surveys(run(pond(tmp_path, offered(DESIGN, 0.0, 500.0), certain), only=("surveys",))).narrowings[0]
    assert found.band_after.value == pytest.approx(0.0, abs=1e-12)
    assert found.narrowing.value == pytest.approx(found.band_before.value, rel=1e-9)
    assert found.band_before.value == pytest.approx(BAND * 0.1 * FLOW_SD, rel=0.02)
    share = float(norm.sf((BANK - LEVEL) / (0.1 * FLOW_SD)))
    assert found.probability_spread.value == pytest.approx(math.sqrt(share * (1.0 - share)), abs=0.03)


def bank_given(outcome: Outcome, k: NDArray[np.float64]) -> NDArray[np.float64]:
    """P(over | result k of a survey that leaves 0.01 of 0.05 m) at the lane, from many independent samples."""
    _, values = outcome.problem.inputs.sample("monte_carlo", 2**17, 9, 1)
    levels = Model(outcome.problem).levels(values[0])
    banks = 32.2 + math.sqrt(0.05**2 - 0.01**2) * k
    return np.array([float(np.mean(ndtr((levels - bank) / 0.01))) for bank in banks])


def test_the_survey_of_a_bank_moves_the_probability_alone(tmp_path: Path) -> None:
    bank = "bank_level_m = { normal = { mean = 32.2, sd = 0.05 } }"
    survey = (bank, bank.replace(" } }", " }, survey = { sd_after = 0.01, cost = 600 } }"))
    cheap = ("assurance = 0.9", "assurance = 0.9\nloss_if_overtopped = 100000\ncost_of_acting = 2000")
    outcome = run(study(tmp_path, survey, cheap), only=("surveys",))
    found = surveys(outcome)
    (narrowing,) = found.narrowings
    assert (narrowing.narrowing.value, narrowing.narrowing.low, narrowing.narrowing.high) == (0.0, 0.0, 0.0)
    k = np.linspace(-4.5, 4.5, 31)
    given, weight = bank_given(outcome, k), norm.pdf(k)
    spread = math.sqrt(np.average((given - np.average(given, weights=weight)) ** 2, weights=weight))
    assert narrowing.probability_spread.value == pytest.approx(spread, rel=0.03)
    assert found.worth is not None
    assert found.worth.decision.better == "act"
    (worth,) = found.worth.surveys
    assert worth.worth.value == pytest.approx(0.0, abs=worth.by_chance)
    assert given.min() > 2000 / 100_000  # so that acting is right whatever the survey finds
    exact = next(each for each in found.worth.inputs if each.input == "lane.bank_level_m")
    assert exact.words.startswith("0: no decision would change")


def test_too_few_replicates_are_told_and_the_run_goes_on(tmp_path: Path) -> None:
    few = ("replicates = 16", "replicates = 2")
    told = pond(tmp_path, few, ("samples = 8192", "samples = 1024"), offered(DESIGN, 0.2, 500.0), MONEY)
    found = surveys(run(told, only=("surveys",)))
    assert found.narrowings == ()
    assert found.worth is None
    assert any(note.startswith("No figures for the survey of flow.design_m3_s") for note in found.notes)
    assert any(note.startswith("No worth of information") for note in found.notes)


def test_without_survey_and_money_there_is_nothing_to_say(tmp_path: Path) -> None:
    plain = pond(tmp_path, ("samples = 8192", "samples = 1024"))
    assert run(plain, only=("surveys",)).surveys is None


def test_money_alone_is_enough(tmp_path: Path) -> None:
    found = surveys(run(pond(tmp_path, ("samples = 8192", "samples = 1024"), MONEY), only=("surveys",)))
    assert found.narrowings == ()
    assert found.worth is not None
    assert found.worth.surveys == ()
    assert len(found.worth.inputs) == 2
