"""A prior shared by several screens: the beta-binomial of published records, and simulated screens."""

from __future__ import annotations

import numpy as np
import pytest

from overbank.uncertain.checks import ParameterError
from overbank.uncertain.pooled import MOST, likeliest, log_likelihood, shared_prior

RATS = (
    "0/20x7 0/19x4 0/18x2 0/17 1/20x4 1/19x2 1/18x2 2/25 2/24 2/23 2/20x6 1/10 5/49 2/19 5/46 3/27 2/17 "
    "7/49 7/47 3/20x2 2/13 9/48 10/50 4/20x7 10/48 4/19x3 5/22 11/46 12/49 5/20x2 6/23 5/19 6/22 "
    "6/20x3 16/52 15/46 15/47 9/24 4/14"
)
"""Rats with a tumour in 71 groups, y/n, x so many groups alike (Tarone 1982; read in a public notebook)."""

HITS = np.array([18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7], dtype=float)
"""Hits of 18 batters in their first 45 trials (Efron and Morris 1975; read in a page that lists them)."""


def counts_of(pairs: str) -> np.ndarray:
    rows = []
    for pair in pairs.split():
        group, _, times = pair.partition("x")
        some, looks = map(float, group.split("/"))
        rows += [(some, looks - some)] * int(times or 1)
    return np.array(rows)


def test_rats() -> None:
    """Marginal maximum: a 2.34161, b 14.11480, ln L -730.33845; at (1.4, 8.6) -731.65395 (computed apart from this
    program). With these worths every group moves towards the mean of all."""
    counts = counts_of(RATS)
    assert (counts[:, 0].sum(), counts.sum()) == (267.0, 1739.0)
    found = likeliest(counts)
    assert found.worths == pytest.approx((2.34161, 14.11480), rel=2e-4)
    assert found.log_likelihood == pytest.approx(-730.33845, abs=1e-4)
    assert log_likelihood(np.array([1.4, 8.6]), counts) == pytest.approx(-731.65395, abs=1e-4)
    a, b = found.worths
    for some, all_, mean in ((4, 14, 0.2083), (0, 20, 0.0642), (16, 52, 0.2680)):
        assert (a + some) / (a + b + all_) == pytest.approx(mean, abs=2e-4)
        assert abs(mean - 267 / 1739) < abs(some / all_ - 267 / 1739)


def test_batters_that_hardly_differ() -> None:
    """Mean 0.265432, worth about 793 looks: 0.0140 log units above the plain binomial, -468.7165 (computed apart)."""
    counts = np.column_stack([HITS, 45.0 - HITS])
    found = likeliest(counts)
    mean = found.worths[0] / sum(found.worths)
    assert mean == pytest.approx(0.265432, abs=2e-4)
    plain = float(np.sum(HITS * np.log(mean) + (45.0 - HITS) * np.log1p(-mean)))
    assert plain == pytest.approx(-468.7165, abs=1e-3)
    assert found.log_likelihood - plain == pytest.approx(0.0140, abs=2e-4)
    assert sum(found.worths) == pytest.approx(793.0, rel=0.02)


def test_screens_without_any_difference_end_at_the_most_and_say_so() -> None:
    found = likeliest(np.full((6, 3), 10.0))
    assert sum(found.worths) == pytest.approx(MOST, rel=1e-3)
    assert found.alike


def test_what_simulated_screens_were_made_from_is_found() -> None:
    rng = np.random.default_rng(4)
    truth = np.array([3.0, 6.0, 1.0])
    counts = np.array([rng.multinomial(40, rng.dirichlet(truth)) for _ in range(200)], dtype=float)
    assert likeliest(counts).worths == pytest.approx(tuple(truth), rel=0.2)


def test_a_screen_with_few_looks_borrows_and_one_with_many_hardly_does() -> None:
    rng = np.random.default_rng(5)
    counts = np.array([rng.multinomial(40, rng.dirichlet([4.0, 14.0, 2.0])) for _ in range(12)], dtype=float)
    found = shared_prior(counts, np.array([1.0, 3.75, 0.25]))
    assert found.screens == 12
    worths = np.array(found.worths)
    for looks, near in ((2.0, True), (400.0, False)):
        mean = (worths[2] + looks) / (worths.sum() + looks)  # all of them found everything blocked
        assert bool(mean < 0.5) is near


def test_too_few_others_are_refused() -> None:
    with pytest.raises(ParameterError, match="usable looks at 3 others"):
        shared_prior(np.array([[1.0, 2.0, 0.0], [2.0, 1.0, 0.0], [0.0, 0.0, 0.0]]), np.array([1.0, 3.0, 1.0]))
