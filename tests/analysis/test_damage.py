"""Expected annual damage against a published table, a closed form for Gumbel maxima, and the annuity."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.special import exp1
from scipy.stats import gumbel_r

from overbank.analysis import damage
from overbank.analysis.annual import in_one_year
from overbank.analysis.bands import from_means
from overbank.errors import DomainError

YEARS = np.array([1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 25.0, 50.0, 100.0, 200.0])
DAMAGES = 1e3 * np.array([0.0, 20.0, 60.0, 140.0, 177.0, 213.0, 250.0, 300.0, 400.0, 500.0])
COSTS = np.array([0.0, 3000.0, 14000.0, 23000.0, 25000.0, 27000.0, 29000.0, 40000.0, 60000.0, 80000.0])
"""Chow, Maidment & Mays 1988, Applied Hydrology, example 13.2.3 (read in a translated reprint): return periods,
damages, and the capital cost a year of protecting up to each."""

GUMBEL = [(5.0, 0.105779972), (7.0, 0.011772716)]
"""EAD of (Q - x0)+ with Q Gumbel(3.1, 0.9): closed form a (0.5772157 + ln y + E1(y)), y = exp(-(x0 - u)/a)."""


def without_the_last(years: np.ndarray, damages: np.ndarray) -> float:
    """The table ends at 200 years: what is rarer is left out there, and taken as the last here."""
    return damage.expected(1.0 / years, damages) - damages[-1] / years[-1]


def test_increments_of_the_published_table() -> None:
    published = [5000, 12000, 10000, 5283, 3250, 2315, 5500, 3500, 2250]
    found = [
        without_the_last(np.array(pair), np.array(money))
        for pair, money in zip(pairwise(YEARS), pairwise(DAMAGES), strict=True)
    ]
    np.testing.assert_allclose(found, published, rtol=0.0, atol=1.0)


def test_sum_of_the_published_table() -> None:
    assert without_the_last(YEARS, DAMAGES) == pytest.approx(49_098, abs=1.0)


def test_total_cost_is_least_at_25_years_as_published() -> None:
    totals = [without_the_last(YEARS[i:], DAMAGES[i:]) + COSTS[i] for i in range(YEARS.size)]
    assert YEARS[int(np.argmin(totals))] == 25.0
    assert min(totals) == pytest.approx(40_250, abs=1.0)


@pytest.mark.parametrize(("start", "published"), GUMBEL)
def test_closed_form_of_gumbel_maxima(start: float, published: float) -> None:
    y = math.exp(-(start - 3.1) / 0.9)
    assert 0.9 * (0.5772156649 + math.log(y) + float(exp1(y))) == pytest.approx(published, rel=1e-6)
    at = np.linspace(1.0, 25.0, 4001)
    row = gumbel_r.sf(at, 3.1, 0.9)
    found, each = damage.of_levels(from_means(at, np.array([row, row]), ""), lambda x: np.maximum(x - start, 0.0))
    assert found.value == pytest.approx(published, rel=2e-5)
    assert each == pytest.approx([published, published], rel=2e-5)


def test_a_lump_costs_its_probability() -> None:
    """A loss as soon as a level is passed, wherever the level lies among those of the curve."""
    at = np.linspace(0.0, 10.0, 11)
    row = 1.0 - at / 10.0
    curve = from_means(at, np.array([row, row]), "")
    for level in (2.0, 3.37):
        found, _ = damage.of_levels(curve, lambda x, start=level: np.where(x > start, 100.0, 0.0), [level])
        assert found.value == pytest.approx(100.0 * (1.0 - level / 10.0), rel=1e-9)


def test_an_exponential_tail_is_carried_on_exactly() -> None:
    """P = exp(-x), looked at up to 2 only; damage x: the integral of P is 1, of which exp(-2) lies above."""
    at = np.linspace(0.0, 2.0, 2001)
    curve = from_means(at, np.exp(-np.array([at, at])), "")
    found, _ = damage.of_levels(curve, lambda x: x)
    assert found.value == pytest.approx(1.0, rel=1e-3)
    assert found.low == pytest.approx(1.0 - 3.0 * np.exp(-2.0) + 2.0 * np.exp(-2.0), abs=2e-3)
    assert "lies above the levels looked at" in found.note


@pytest.mark.parametrize(("rate", "years", "worth"), [(0.0, 50, 50.0), (0.035, 50, 23.45562), (0.06, 10, 7.36009)])
def test_annuity_by_adding_up(rate: float, years: int, worth: float) -> None:
    assert damage.annuity(rate, years) == pytest.approx(sum((1.0 + rate) ** -(k + 1) for k in range(years)), rel=1e-12)
    assert damage.annuity(rate, years) == pytest.approx(worth, rel=1e-6)


def test_rising_probabilities_are_refused() -> None:
    with pytest.raises(DomainError, match="never rise"):
        damage.expected([0.1, 0.2], [0.0, 1.0])


def test_design_life_as_the_pack_has_it() -> None:
    """A target of 5 % over 75 years asks for the flood of 1 463 years; a 50-year design fails within 75 with 0.780."""
    assert 1.0 / in_one_year(0.05, 75) == pytest.approx(1463, abs=1.0)
    assert in_one_year(0.780, 75) == pytest.approx(1.0 / 50.0, rel=0.01)
