"""The floods of a year with what is not known of them."""

from __future__ import annotations

import numpy as np
import pytest
from records import nidd
from scipy.special import ndtr, ndtri
from scipy.stats import gumbel_r

from overbank.uncertain.extremes import GeneralisedExtremeValue, GeneralisedLogistic, Gumbel, values_of
from overbank.uncertain.fitting import as_likely, fit
from overbank.uncertain.floods import FloodOf, Floods, fitted_floods, floods_of_record, known_floods

GUMBEL = np.log(-np.log(0.99))
"""Reduced variate of the 1 % flood, closed form."""

FITTED = fitted_floods(fit("gev", "l_moments", nidd()), seed=3)


def test_known_floods_have_one_alternative() -> None:
    floods = known_floods(Gumbel(3.0, 1.0))
    assert floods.known
    # closed form: location - scale ln(-ln(1 - p))
    assert floods.flood([0.5, 0.01])[0] == pytest.approx(3.0 - np.log(-np.log([0.5, 0.99])))
    assert not floods.chosen(np.random.default_rng(1).standard_normal((4, 8))).any()


def test_the_same_seed_gives_the_same_alternatives() -> None:
    again = fitted_floods(fit("gev", "l_moments", nidd()), seed=3)
    assert again.alternatives == FITTED.alternatives
    assert fitted_floods(fit("gev", "l_moments", nidd()), seed=4).alternatives != FITTED.alternatives


def test_every_replicate_has_alternatives_of_its_own_in_rising_order() -> None:
    z = np.broadcast_to(ndtri((np.arange(64) + 0.5) / 64), (16, 64))
    chosen = FITTED.chosen(z)
    owners = [set(row) for row in chosen]
    assert not any(owners[i] & owners[j] for i in range(16) for j in range(i))
    assert np.all(np.diff(FITTED.flood(0.01)[chosen], axis=1) >= 0.0)


def test_no_replicate_may_be_left_without_alternatives() -> None:
    few = Floods(Gumbel(3.0, 1.0), (Gumbel(3.0, 1.0), Gumbel(3.1, 1.0)), "two")
    with pytest.raises(ValueError, match="no more replicates than alternatives"):
        few.chosen(np.zeros((3, 4)))


def test_scores_and_flows_are_those_of_the_alternative_chosen() -> None:
    z = np.random.default_rng(2).standard_normal((4, 8))
    chosen = FITTED.chosen(z)
    scores = np.random.default_rng(3).standard_normal((4, 8, 5))
    flows = FITTED.flows(scores, chosen)
    assert np.allclose(FITTED.scores_below(flows, chosen), scores, atol=1e-9)
    assert flows[2, 3, 1] == FITTED.alternatives[chosen[2, 3]].value(scores[2, 3, 1])
    ends = np.broadcast_to([-np.inf, np.inf, np.nan], (4, 8, 3))
    assert np.array_equal(FITTED.scores_below(ends, chosen), ends, equal_nan=True)


def test_flows_stay_among_those_that_a_site_can_have() -> None:
    floods = known_floods(GeneralisedExtremeValue(1.0, 5.0, -0.9))
    one = np.zeros((1, 1), dtype=np.intp)
    assert floods.flows(np.array([[[-8.0, 8.0]]]), one).ravel() == pytest.approx([0.0001, 20_000.0])


def test_the_flood_of_a_probability_is_a_distribution_over_the_alternatives() -> None:
    flood = FloodOf(FITTED, 0.01)
    assert np.mean(FITTED.flood(0.01) < flood.median) == pytest.approx(0.5, abs=3.5 * 0.5 / np.sqrt(4096))
    assert "flood of an annual probability of 1\u00a0%" in flood.words
    assert "35 annual maxima by L-moments" in flood.words


def test_the_seed_hardly_moves_the_flood_of_a_probability() -> None:
    """About 600 000 records: the standard error of a probability is 0.8 % with 4096 of them."""
    best = Gumbel(2.91, 0.75)
    rows = np.concatenate([as_likely("gumbel", "l_moments", best, 20, 200_000, seed) for seed in range(3)])
    pooled = values_of(rows, GUMBEL)
    chances = np.array([0.1, 0.5, 0.9])
    floods = [FloodOf(floods_of_record("gumbel", best, 20, seed), 0.01) for seed in range(3)]
    missed = [ndtr(flood.score(np.quantile(pooled, chances))) - chances for flood in floods]
    assert np.abs(missed).max() < 3.5 * 0.5 / np.sqrt(2**16)


def test_the_flood_of_a_probability_by_likelihood_comes_from_more_records_too() -> None:
    """A Gumbel fit by likelihood misses alike whatever its parameters (pivotal): two sites in different units."""
    records = [scale * gumbel_r.rvs(2.0, 1.0, 20, random_state=3) for scale in (1.0, 7.0)]
    fits = [fitted_floods(fit("gumbel", "maximum_likelihood", record), seed) for seed, record in enumerate(records)]
    first, second = (FloodOf(floods, 0.01) for floods in fits)
    chances = np.array([0.1, 0.5, 0.9])
    missed = ndtr(second.score(7.0 * first.value(ndtri(chances)))) - chances
    assert np.abs(missed).max() < 3.5 * 0.5 * np.sqrt(2.0 / 2**14)


def test_many_alternatives_have_the_values_of_each() -> None:
    for family, made in (("gev", GeneralisedExtremeValue), ("generalised_logistic", GeneralisedLogistic)):
        rows = as_likely(family, "l_moments", made(3.0, 0.8, -0.1), 30, 8, 5)
        each = [made(*row).value(2.3) for row in rows.tolist()]
        assert values_of(rows, made(0.0, 1.0, 0.0).reduced(2.3)) == pytest.approx(each, rel=1e-12)


def test_equivalent_years_stand_for_a_record() -> None:
    best = FITTED.best
    floods = floods_of_record("gev", best, 35, seed=3)
    # the same bootstrap from the same best estimate, but for those that could not have brought the largest flood
    possible = tuple(each for each in floods.alternatives if each.support[1] > nidd().max())
    assert possible == FITTED.alternatives
    assert len(possible) < len(floods.alternatives)
    assert "35 years of record" in floods.words
