"""Worth of a survey over the life at the pond whose costs have a closed form, by quadrature over its results."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import exp1

from overbank.outputs.outcome import Outcome
from overbank.outputs.surveys_over_life import SurveysOverLife
from overbank.report.page import page
from overbank.report.sections.surveys_over_life import SECTION
from overbank.run import run
from pond import BANK, SHIFT, SHIFT_SD, pond

from .test_money import FACTOR, MONEY, WITH_YEARS

LEFT = 0.4
"""Of the standard deviation of the shift."""

FEW = ("samples = 8192", "samples = 2048")


def whole(mean: float, z: np.ndarray, costs: float) -> np.ndarray:
    """Damages and costs over the life at scores of the shift: level 10 + Q/10 + shift, Q Gumbel(3.0, 0.6)."""
    y = np.exp(-(10.0 * (BANK - 10.0 - mean - SHIFT_SD * z) - 3.0) / 0.6)
    return np.asarray(FACTOR * 1e4 * 0.6 * (0.57721566490153286 + np.log(y) + exp1(y)) + costs)


def worth(cost: float, left: float) -> float:
    """min_a E[C_a] - E[min_a E[C_a | k]] by quadrature, the shift being N(sqrt(1 - left^2) k, left^2) given k."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(60)
    weights = weights / weights.sum()
    k = np.linspace(-6.0, 6.0, 2001)
    chance = np.exp(-0.5 * k**2) / np.sum(np.exp(-0.5 * k**2))
    z = np.sqrt(1.0 - left**2) * k[:, np.newaxis] + left * nodes
    of_each = np.array([whole(m, z, c) @ weights for m, c in ((0.0, 10.0 * FACTOR), (-0.1, cost + 30.0 * FACTOR))])
    return float(np.min(of_each @ chance) - chance @ np.min(of_each, axis=0))


@pytest.fixture(scope="module", params=[(4000.0, 300.0), (9000.0, 3000.0)])
def prices(request: pytest.FixtureRequest) -> tuple[float, float]:
    """Cost of the alternative, and of the survey: once below and once above what that is worth."""
    return request.param  # type: ignore[no-any-return]


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory, prices: tuple[float, float]) -> Outcome:
    offered = SHIFT.replace("}, basis", f"}}, survey = {{ sd_after = 0.04, cost = {prices[1]} }}, basis")
    more = MONEY.replace("cost = 2000.0", f"cost = {prices[0]}")
    made = pond(tmp_path_factory.mktemp("pond"), WITH_YEARS, (SHIFT, offered), FEW, more=more)
    return run(made, only=("surveys_over_life",))


@pytest.fixture(scope="module")
def found(outcome: Outcome) -> SurveysOverLife:
    assert outcome.surveys_over_life is not None
    return outcome.surveys_over_life


def test_survey_and_number_itself_are_worth_what_quadrature_says(
    found: SurveysOverLife, prices: tuple[float, float]
) -> None:
    (survey,), (exact,) = found.surveys, found.exact
    for known, left in ((survey, LEFT), (exact, 0.0)):
        right = worth(prices[0], left)
        assert known.worth.low < right
        assert 0.7 * right < known.worth.value < 1.25 * right  # 1 024 states; it errs low by a tenth
    assert survey.net.value == pytest.approx(survey.worth.value - prices[1])
    assert found.everything.value == pytest.approx(worth(prices[0], 0.0), rel=0.25)
    assert exact.worth.value <= found.everything.value + 1e-9


def test_page_says_the_figures_and_where_none_is_worth_its_cost(
    outcome: Outcome, found: SurveysOverLife, prices: tuple[float, float]
) -> None:
    text = page(outcome, {})
    assert "Could not be done" not in text
    shown = SECTION.content(outcome)
    assert shown is not None
    assert found.surveys[0].net.low > 0.0 or prices[1] == 3000.0
    assert ("Of no survey here" in shown["none"]) == (prices[1] == 3000.0)
    assert "costs least on average over 50 years" in text
