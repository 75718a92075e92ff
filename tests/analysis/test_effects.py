"""Curves along one input against closed forms: means over the bins themselves, by integrals."""

from itertools import pairwise

import numpy as np
import pytest
from known_answers import ishigami, scores, standard_error
from scipy import integrate, stats
from scipy.special import ndtr, ndtri

from overbank.analysis.effects import BINS, level_given, overtopping_given
from overbank.errors import DomainError

EDGES = np.arange(BINS + 1) / BINS
NAMES = ["x1", "x2", "x3"]


def assert_curve(effect, exact, *, error=0.0):
    """Within five standard errors: of 24 bins one in fifty goes beyond four, as each error is of 16 replicates."""
    own = standard_error(effect.low, effect.high, 16)
    assert np.all(np.abs(effect.mean - exact) <= 5 * np.hypot(own, error) + 1e-12), effect.table()


def test_ishigami():
    # E[y | x1] = (1 + b pi^4/5) sin x1 + 7/2, E[y | x3] = 7/2; bins of equal count of x uniform in (-pi, pi).
    z = scores(16, 1024, 3, seed=111)
    x = np.pi * (2 * ndtr(z) - 1)
    along = level_given(x, ishigami(z), NAMES)
    assert [effect.input for effect in along] == NAMES
    edges = np.pi * (2 * EDGES - 1)
    sine = -np.diff(np.cos(edges)) / np.diff(edges)
    square = 0.5 - np.diff(np.sin(2 * edges)) / 4 / np.diff(edges)
    assert_curve(along[0], (1 + 0.1 * np.pi**4 / 5) * sine + 3.5, error=1e-3)
    assert_curve(along[1], 7 * square, error=1e-3)
    assert_curve(along[2], np.full(BINS, 3.5), error=1e-3)
    np.testing.assert_allclose(along[0].at, 0.5 * (edges[1:] + edges[:-1]), atol=2e-3)
    assert np.all(np.abs(along[0].samples - 16 * 1024 / BINS) <= 1)
    table = along[0].table()
    assert table.columns.tolist() == ["input", "at", "mean", "low", "high", "samples"]
    assert len(table) == BINS


def test_an_input_that_depends_on_another_tells_of_it():
    # E[x1 + x2 + 2 x3 | x2] = (1 + 2 rho) x2 (closed form), the mean of x2 in a bin being that of a normal.
    z = scores(16, 1024, 3, seed=112)
    x = z @ np.linalg.cholesky(np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.5], [0.0, 0.5, 1.0]])).T
    effect = level_given(x, x @ np.array([1.0, 1.0, 2.0]), NAMES)[1]
    in_bins = -np.diff(stats.norm.pdf(ndtri(EDGES))) * BINS
    np.testing.assert_allclose(effect.at, in_bins, atol=5e-3)
    assert_curve(effect, 2 * in_bins, error=1e-3)


def test_overtopping_from_conditional_probabilities():
    # Y = 0.8 Z1 + 0.36 Z2 + 0.48 Z3 over 2, Z3 integrated out: P(over | Z1) = Phi((0.8 Z1 - 2)/0.6), closed form.
    z = scores(16, 1024, 3, seed=113)
    p = ndtr((z[..., 0] * 0.8 + z[..., 1] * 0.36 - 2) / 0.48)
    first, second = overtopping_given(z, p, ["z1", "z2", "z3"], "z3")
    assert (first.input, second.input) == ("z1", "z2")
    cuts = ndtri(EDGES)
    for effect, weight in ((first, 0.8), (second, 0.36)):
        spread = np.sqrt(1 - weight**2)
        given = lambda t, a=weight, s=spread: stats.norm.pdf(t) * ndtr((a * t - 2) / s)  # noqa: E731
        exact = [BINS * integrate.quad(given, low, high)[0] for low, high in pairwise(cuts)]
        assert_curve(effect, exact, error=2e-4)
    assert first.mean[-1] > 20 * first.mean[BINS // 2]
    assert np.all((first.low >= 0) & (first.low <= first.mean) & (first.mean <= first.high) & (first.high <= 1))


def test_a_value_that_many_samples_share_is_a_bin_of_its_own():
    z = scores(16, 256, 2, seed=114)
    blockage = np.maximum(ndtr(z[..., 0]) - 0.2, 0) / 0.8  # clean in a fifth of all samples
    effect = level_given(np.stack([blockage, z[..., 1]], axis=-1), blockage + z[..., 1], ["blockage", "rest"])[0]
    assert effect.at[0] == 0.0
    assert effect.samples[0] == np.count_nonzero(blockage == 0)
    assert np.all(np.diff(effect.at) > 0)
    assert_curve(effect, effect.at, error=1e-3)
    pattern = np.floor(3 * ndtr(z[..., 0]))  # an input of three values
    effect = level_given(pattern[..., None], pattern + z[..., 1], ["pattern"])[0]
    assert effect.at.tolist() == [0.0, 1.0, 2.0]
    assert_curve(effect, [0.0, 1.0, 2.0])


def test_no_band_of_no_width_where_nothing_goes_over():
    z = scores(16, 64, 2, seed=115)
    effect = overtopping_given(z, (z[..., 0] > 1.5) * 1.0, ["a", "b"], None)[0]
    assert effect.mean[0] == 0.0
    assert 0.0 < effect.high[0] < 0.1
    assert effect.mean[-1] == 1.0
    assert 0.9 < effect.low[-1] < 1.0


def test_one_replicate_gives_no_band():
    z = scores(1, 256, 1, seed=116)
    effect = level_given(z, z[..., 0], ["a"])[0]
    assert np.all(np.isnan(effect.low))
    assert "one replicate" in effect.note


def test_refusals():
    z = scores(4, 64, 2, seed=117)
    with pytest.raises(DomainError, match="expected inputs"):
        level_given(z, z[..., 0], ["a"])
    with pytest.raises(DomainError, match="finite in every sample"):
        level_given(np.where(z > 2, np.nan, z), z[..., 0], ["a", "b"])
    with pytest.raises(DomainError, match="infinite"):
        level_given(z, np.where(z[..., 0] > 2, np.inf, 0.0), ["a", "b"])
    with pytest.raises(DomainError, match="two bins"):
        level_given(z[:, :8], z[:, :8, 0], ["a", "b"])
    with pytest.raises(DomainError, match="between 0 and 1"):
        overtopping_given(z, z[..., 0], ["a", "b"], "a")
    with pytest.raises(DomainError, match="never happens"):
        overtopping_given(z, 0 * z[..., 0], ["a", "b"], "a")
    with pytest.raises(DomainError, match="'c'"):
        overtopping_given(z, ndtr(z[..., 0]), ["a", "b"], "c")
