"""Money at a pond whose level is a line in the flow: the closed form of Gumbel damages, by quadrature."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import exp1
from scipy.stats import gumbel_r, norm

from overbank.errors import OverbankError
from overbank.outputs.money import Accounts
from overbank.outputs.outcome import Outcome
from overbank.run import run
from pond import BANK, SHIFT_SD, pond

YEARS = 'basis = "invented" }\nannual = { gumbel = { location = 3.0, scale = 0.6 } }\ndesign_life_years = 50\n\n[tail'
WITH_YEARS = ('basis = "invented" }\n\n[tail', YEARS)
MONEY = """
[money]
depth_damage = [[0.0, 0.0], [5.0, 500000.0]]
discount_rate = 0.035
life_years = 50
maintenance_a_year = 10.0

[[alternative]]
name = "drained"
set = { "tailwater.rating_shift_m" = { normal = { mean = -0.1, sd = 0.1 } } }
cost = 2000.0
maintenance_a_year = 30.0

[[receptor]]
name = "yard"
level_m = 10.5
"""
FACTOR = sum(1.035**-k for k in range(1, 51))


def damage_a_year(mean: float) -> float:
    """100 000 a metre over the bank, level 10 + Q/10 + shift, Q Gumbel(3.0, 0.6): closed form, Gauss-Hermite."""
    z, weights = np.polynomial.hermite_e.hermegauss(80)
    y = np.exp(-(10.0 * (BANK - 10.0 - mean - SHIFT_SD * z) - 3.0) / 0.6)
    each = 0.6 * (0.57721566490153286 + np.log(y) + exp1(y))
    return float(1e4 * np.sum(weights * each) / np.sum(weights))


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    study = pond(tmp_path_factory.mktemp("pond"), WITH_YEARS, more=MONEY)
    return run(study, only=("money", "receptors", "years"))


@pytest.fixture(scope="module")
def found(outcome: Outcome) -> Accounts:
    assert outcome.money is not None
    return outcome.money


def test_expected_annual_damage_is_the_closed_form(found: Accounts) -> None:
    as_it_stands, drained = found.each
    assert (as_it_stands.name, drained.name) == ("as it stands", "drained")
    assert as_it_stands.damage.value == pytest.approx(damage_a_year(0.0), rel=0.03)
    assert drained.damage.value == pytest.approx(damage_a_year(-0.1), rel=0.05)
    assert as_it_stands.low < as_it_stands.damage.value < as_it_stands.high


def test_whole_life_cost_and_net_benefit(found: Accounts) -> None:
    as_it_stands, drained = found.each
    assert found.factor == pytest.approx(FACTOR)
    assert as_it_stands.costs == pytest.approx(10.0 * FACTOR)
    assert drained.costs == pytest.approx(2000.0 + 30.0 * FACTOR)
    assert drained.whole.value == pytest.approx(FACTOR * drained.damage.value + drained.costs)
    saved = FACTOR * (damage_a_year(0.0) - damage_a_year(-0.1)) - 2000.0 - 20.0 * FACTOR
    assert as_it_stands.benefit is None
    assert drained.benefit is not None
    assert drained.benefit.value == pytest.approx(saved, rel=0.06)
    apart = as_it_stands.whole.value - drained.whole.value
    assert drained.benefit.value == pytest.approx(apart, rel=1e-9)


def test_how_often_each_costs_least_is_the_closed_form(found: Accounts) -> None:
    """Drained costs less where the shift z is above the one at which what it saves over the life is what it costs."""

    def of_state(mean: float, z: float) -> float:
        y = np.exp(-(10.0 * (BANK - 10.0 - mean - SHIFT_SD * z) - 3.0) / 0.6)
        return float(1e4 * 0.6 * (0.57721566490153286 + np.log(y) + exp1(y)))

    def saved(z: float) -> float:
        return FACTOR * (of_state(0.0, z) - of_state(-0.1, z)) - 2000.0 - 20.0 * FACTOR

    stands, drained = found.each
    assert stands.best is not None
    assert drained.best is not None
    assert drained.best.value == pytest.approx(norm.sf(brentq(saved, -5.0, 5.0)), abs=0.02)
    assert stands.best.value + drained.best.value == pytest.approx(1.0)


def test_every_alternative_has_its_years(outcome: Outcome) -> None:
    assert outcome.years is not None
    first, drained = outcome.years
    assert drained.annual.probability.value < first.annual.probability.value
    assert drained.annual.life is not None


def in_years(mean: float, years: int) -> float:
    """Of at least one flood over the bank: level 10 + Q/10 + shift, Q Gumbel(3.0, 0.6), by quadrature."""
    z, weights = np.polynomial.hermite_e.hermegauss(120)
    yearly = gumbel_r.sf(10.0 * (BANK - 10.0 - mean - SHIFT_SD * z), 3.0, 0.6)
    return float(np.sum(weights * (1.0 - (1.0 - yearly) ** years)) / np.sum(weights))


def test_differences_of_years_are_the_closed_form_and_known_better_than_the_figures(outcome: Outcome) -> None:
    assert outcome.years is not None
    first, drained = outcome.years
    assert first.change is None
    assert drained.change is not None
    told = {1: (first.sheet.in_a_year, drained.sheet.in_a_year, drained.change.in_a_year)}
    told |= {n: (first.sheet.over[n], drained.sheet.over[n], drained.change.over[n]) for n in (10, 30, 50)}
    for years, (stands, changed, less) in told.items():
        exact = [in_years(mean, years) for mean in (0.0, -0.1)]
        assert stands.value == pytest.approx(exact[0], rel=0.04)
        assert changed.value == pytest.approx(exact[1], rel=0.06)
        half = 0.5 * (less.high - less.low)
        assert abs(less.value - (exact[1] - exact[0])) < max(2.0 * half, 1e-3)
        assert half < 0.5 * (stands.high - stands.low + changed.high - changed.low)
    for probability, less in drained.change.assurance.items():
        flow = gumbel_r.isf(probability, 3.0, 0.6)
        more = norm.cdf(BANK - 10.0 - 0.1 * flow + 0.1, 0.0, SHIFT_SD) - norm.cdf(
            BANK - 10.0 - 0.1 * flow, 0.0, SHIFT_SD
        )
        assert less.value == pytest.approx(more, abs=0.01)


def test_a_receptor_is_reached_as_often_as_its_level_is_passed(outcome: Outcome) -> None:
    from pond import LEVEL, LEVEL_SD

    assert outcome.receptors is not None
    (yard,) = outcome.receptors
    assert yard.probability.value == pytest.approx(norm.sf(10.5, LEVEL, LEVEL_SD), abs=0.01)
    assert yard.depths[0.95].value == pytest.approx(norm.ppf(0.95, LEVEL, LEVEL_SD) - 10.5, abs=0.01)
    assert yard.in_a_year is not None
    assert yard.in_a_year.value > outcome.years[0].annual.probability.value  # type: ignore[index]
    assert yard.floods[0.5].value == 0.0
    exact = 10.0 + 0.1 * (3.0 - 0.6 * np.log(-np.log(0.999))) - 10.5
    assert yard.floods[0.001].value == pytest.approx(exact, abs=0.005)


@pytest.mark.parametrize("pairs", ["[]", "[[0.0, 5.0], [0.0, 6.0]]", "[[0.0, 5.0], [1.0, 4.0]]", "[[0.0]]", "5"])
def test_damages_that_make_no_sense_are_refused(tmp_path: Path, pairs: str) -> None:
    with pytest.raises(OverbankError, match="a list of pairs of depth"):
        pond(tmp_path, WITH_YEARS, more=MONEY.replace("[[0.0, 0.0], [5.0, 500000.0]]", pairs))


def test_money_without_annual_maxima_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OverbankError, match=r"a table \[money\] only beside annual maxima"):
        pond(tmp_path, more=MONEY)


def test_a_receptor_at_no_element_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OverbankError, match="the id of an element"):
        pond(tmp_path, more='\n[[receptor]]\nname = "yard"\nlevel_m = 10.5\nat = "pnod"\n')
