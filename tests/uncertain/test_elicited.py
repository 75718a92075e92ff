"""Several people's quantiles, pooled. Judgements and fits are those of the tests of the public package SHELF (read)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import brentq

from overbank.uncertain.checks import ParameterError
from overbank.uncertain.elicited import Elicited

QUARTILES = (0.25, 0.50, 0.75)
TWO = ((30.0, 40.0, 50.0), (20.0, 25.0, 35.0))
BETAS = ((4.50124, 6.63268), (4.22275, 11.32285))


@pytest.mark.parametrize(
    ("weights", "expected"),
    [(None, (0.175013, 0.858899, 0.998952)), ((0.7, 0.3), (0.132579, 0.814222, 0.998534))],
)
def test_two_people_pooled(weights: tuple[float, ...] | None, expected: tuple[float, ...]) -> None:
    pool = Elicited(TWO, 0.0, 100.0, weights, QUARTILES)
    assert pool.cdf([20.0, 50.0, 80.0]) == pytest.approx(expected, abs=5e-6)


def test_quantiles_and_moments_of_the_pool() -> None:
    pool = Elicited(TWO, 0.0, 100.0, None, QUARTILES)
    assert pool.quantile([0.05, 0.5, 0.95]) == pytest.approx([13.0200, 32.2832, 59.7118], abs=1e-3)
    laws = [stats.beta(a, b, 0.0, 100.0) for a, b in BETAS]
    assert pool.mean == pytest.approx(np.mean([law.mean() for law in laws]), abs=1e-3)
    square = np.mean([law.var() + law.mean() ** 2 for law in laws])
    assert pool.sd == pytest.approx(np.sqrt(square - pool.mean**2), abs=1e-3)

    def over(x: float) -> float:
        return float(np.mean([law.sf(x) for law in laws])) - 1e-6

    assert float(pool.quantile(1.0 - 1e-6)) == pytest.approx(brentq(over, 50.0, 99.9), abs=1e-2)


def test_a_distribution_comes_back_from_its_own_quantiles() -> None:
    """Beta(5, 20) between 10 and 60 from its probabilities at 18, 20 and 24: exact recovery."""
    shares = stats.beta(5.0, 20.0, 10.0, 50.0).cdf([18.0, 20.0, 24.0])
    one = Elicited(((18.0, 20.0, 24.0),), 10.0, 60.0, None, tuple(shares))
    assert one.mean == pytest.approx(10.0 + 50.0 * 0.2, abs=1e-5)
    assert "one person" in one.words


def test_disagreement_is_told() -> None:
    assert "2 people, whose medians go from 2" in Elicited(TWO, 0.0, 100.0, None, QUARTILES).words


@pytest.mark.parametrize(
    ("people", "more", "expected"),
    [
        (((30.0, 20.0, 50.0),), {}, "rise from low to high"),
        (((30.0, 40.0),), {}, "3 quantiles of each person"),
        (((30.0, 40.0, 120.0),), {}, "rise from low to high"),
        (TWO, {"weights": (0.5, 0.6)}, "add up to 1"),
        (TWO, {"shares": (0.5, 0.5, 0.9)}, "rising shares"),
        (((1.0, 2.0, 99.0),), {}, "nearly have"),
    ],
)
def test_what_no_one_can_mean_is_refused(people: object, more: dict[str, object], expected: str) -> None:
    with pytest.raises(ParameterError) as refused:
        Elicited(people, 0.0, 100.0, **more)  # type: ignore[arg-type]
    assert expected in refused.value.expected
