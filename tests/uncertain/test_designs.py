"""Sobol' balance, Latin hypercube strata, and seeds; the references are the definitions of the designs."""

import math

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr, ndtri
from scipy.stats import qmc

from overbank.uncertain.designs import score_batches, scores

DESIGNS = ["sobol", "latin_hypercube", "monte_carlo"]


@pytest.mark.parametrize("design", ["sobol", "latin_hypercube"])
def test_each_column_has_one_point_in_each_of_n_equal_strata(design):
    z = scores(design, 4 * 256, 7, seed=5, replicates=4)
    strata = np.sort(np.floor(ndtr(z) * 256), axis=1)
    np.testing.assert_array_equal(strata, np.broadcast_to(np.arange(256.0)[:, None], z.shape))


@pytest.mark.parametrize("rows", [2, 4, 16, 64, 128])
def test_the_first_two_sobol_columns_fill_every_box_once(rows):
    # Definition of a (0, m, 2)-net in base 2: one point in each box of 2^-k by 2^-(m-k). A dropped first
    # point, or any skipped one, would leave a box empty and another full.
    for u in ndtr(scores("sobol", 8 * 256, 5, seed=3, replicates=8)):
        box = np.floor(u[:, 0] * rows) * (256 // rows) + np.floor(u[:, 1] * (256 // rows))
        np.testing.assert_array_equal(np.sort(box), np.arange(256))


def test_sobol_integrates_far_better_than_chance():
    # Owen (arXiv 2008.08051): the error of a smooth mean falls as n^-3/2 with all points kept. The mean of
    # the sum of 6 columns of u is 3; 1024 independent samples would scatter by sqrt(6/12/1024) = 0.022.
    means = ndtr(scores("sobol", 32 * 1024, 6, seed=1, replicates=32)).sum(axis=2).mean(axis=1)
    assert np.std(means - 3.0) < 1e-4


@pytest.mark.parametrize("design", DESIGNS)
def test_scores_are_standard_normal(design):
    z = scores(design, 8192, 3, seed=2, replicates=8).reshape(-1, 3)
    for column in z.T:
        assert stats.kstest(column, "norm").pvalue > 1e-3
    assert np.max(np.abs(np.corrcoef(z.T) - np.eye(3))) < 4.0 / math.sqrt(8192)


@pytest.mark.parametrize("design", DESIGNS)
def test_the_same_seed_gives_the_same_bits_and_another_does_not(design):
    first = scores(design, 256, 3, seed=0, replicates=4)
    np.testing.assert_array_equal(first, scores(design, 256, 3, seed=0, replicates=4))
    for seed in (1, 2, 20261125):
        assert not np.any(first == scores(design, 256, 3, seed=seed, replicates=4))


@pytest.mark.parametrize("design", DESIGNS)
def test_replicates_differ_and_do_not_hang_on_how_many_there_are(design):
    eight = scores(design, 8 * 64, 3, seed=7, replicates=8)
    assert len({replicate.tobytes() for replicate in eight}) == 8
    np.testing.assert_array_equal(eight[:2], scores(design, 2 * 64, 3, seed=7, replicates=2))


@pytest.mark.parametrize("design", DESIGNS)
def test_replicates_are_independent(design):
    """The variance of the grand mean over many seeds is that of one replicate over their number."""
    z = np.array([scores(design, 8 * 16, 1, seed, 8)[..., 0].mean(axis=1) for seed in range(200)])
    ratio = np.var(z.mean(axis=1), ddof=1) / (np.var(z) / 8.0)
    assert abs(ratio - 1.0) < 4.0 * math.sqrt(2.0 / 199.0)


@pytest.mark.parametrize("design", DESIGNS)
def test_a_problem_without_uncertain_numbers_has_empty_rows(design):
    assert scores(design, 64, 0, seed=1, replicates=4).shape == (4, 16, 0)


def test_one_sample_in_each_replicate_is_enough():
    assert scores("sobol", 4, 2, seed=1, replicates=4).shape == (4, 1, 2)


@pytest.mark.parametrize("edge", [0.0, 1.0 - 2.0**-30])
def test_a_sobol_coordinate_at_the_edge_stays_finite(monkeypatch, edge):
    monkeypatch.setattr(qmc.Sobol, "random", lambda self, n: np.full((n, self.d), edge))
    z = scores("sobol", 8, 2, seed=1, replicates=1)
    np.testing.assert_allclose(np.abs(z), -ndtri(2.0**-31), rtol=1e-9)


@pytest.mark.parametrize("edge", [0.0, 1.0])
def test_a_latin_hypercube_coordinate_at_the_edge_stays_finite(monkeypatch, edge):
    monkeypatch.setattr(qmc.LatinHypercube, "random", lambda self, n: np.full((n, self.d), edge))
    assert np.all(np.isfinite(scores("latin_hypercube", 8, 2, seed=1, replicates=1)))


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (
            ("sobel", 64, 2, 1, 4),
            "expected a design, one of sobol, latin_hypercube, monte_carlo, got 'sobel'",
        ),
        (("monte_carlo", 65, 2, 1, 4), "expected a number of samples that 4 replicates can share, got 65"),
        (
            ("sobol", 1600, 2, 1, 16),
            "expected a power of two of Sobol' points in each replicate "
            "(with 16 replicates, 1024 or 2048 samples), got 1600 samples, 100 in each",
        ),
        (("sobol", 0, 2, 1, 4), "expected at least one sample and one replicate, got (0, 4)"),
        (("sobol", 64, 2, -1, 4), "expected a seed of 0 or more, got -1"),
        (("sobol", 64, -2, 1, 4), "expected a dimension of 0 or more, got -2"),
    ],
)
def test_a_design_that_cannot_be_is_refused_in_one_sentence(arguments, message):
    with pytest.raises(ValueError, match=r"^expected") as refusal:
        scores(*arguments)
    assert str(refusal.value) == message


@pytest.mark.parametrize("size", [1, 16, 64, 1024])
@pytest.mark.parametrize("design", DESIGNS)
def test_scores_made_a_few_at_a_time_are_those_made_at_once(design, size):
    batches = list(score_batches(design, 4 * 256, 3, seed=9, replicates=4, size=size))
    assert [batch.shape[1] for batch in batches] == [min(size, 256)] * max(1, 256 // size)
    np.testing.assert_array_equal(np.concatenate(batches, axis=1), scores(design, 4 * 256, 3, seed=9, replicates=4))


def test_the_last_few_may_be_fewer():
    batches = list(score_batches("monte_carlo", 2 * 37, 3, seed=9, replicates=2, size=16))
    assert [batch.shape for batch in batches] == [(2, 16, 3), (2, 16, 3), (2, 5, 3)]
