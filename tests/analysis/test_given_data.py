"""First-order indices from samples already made, against closed forms."""

import numpy as np
import pytest
from known_answers import ISHIGAMI_FIRST, assert_shares, ishigami, scores, standard_error, without_noise
from scipy.special import ndtr

from overbank.analysis.given_data import first_order
from overbank.analysis.sensitivity import DUMMY
from overbank.errors import DomainError

WEIGHTS = np.sqrt([0.75, 0.25])
TARGET = {2: [0.35903993, 0.05236826], 3: [0.21582434, 0.01104775]}  # closed form, see test_target


def independent(replicates, samples, dimension, seed):
    return np.random.default_rng(seed).standard_normal((replicates, samples, dimension))


@pytest.mark.parametrize("draw", [scores, independent])
@pytest.mark.parametrize("samples", [128, 1024])
def test_ishigami(draw, samples):
    z = draw(16, samples, 3, 91)
    found = first_order(z, ishigami(z), ["x1", "x2", "x3"])
    assert_shares(without_noise(found.table), "first", ISHIGAMI_FIRST)
    assert (found.samples, found.dropped, found.warning) == (16 * samples, 0, "")
    noise = found.table.iloc[-1]
    assert noise["input"] == DUMMY
    assert abs(noise["first"]) <= 4 * standard_error(noise["first_low"], noise["first_high"], 16)


def test_neighbours_within_one_set_of_sobol_points_would_mislead():
    # Why samples of different replicates are paired: y is x2 alone, and the neighbours along x1 know of it.
    neighbours = []
    for u in ndtr(scores(20, 1024, 2, seed=92)):
        y = u[np.argsort(u[:, 0]), 1] - 0.5
        neighbours.append(np.mean(y[:-1] * y[1:]) / np.var(y))
    assert np.mean(neighbours) < -0.3  # the first-order index of x1 is 0
    z = scores(16, 256, 2, seed=92)
    found = first_order(z, z[..., 1], ["x1", "x2"])
    assert_shares(without_noise(found.table), "first", [0.0, 1.0], error=1e-4)


@pytest.mark.parametrize(("beta", "samples"), [(2, 1024), (3, 8192)])
@pytest.mark.parametrize("draw", [scores, independent])
def test_events(draw, beta, samples):
    z = draw(16, samples, 2, 93)
    counted = first_order(z, (z @ WEIGHTS > beta) * 1.0, ["strong", "weak"])
    assert_shares(without_noise(counted.table), "first", TARGET[beta], error=0.002)


def test_dependent_inputs_and_atoms():
    # y = x1 + x2 + 2 x3, x2 and x3 correlated by 0.5: first order 1/8, 1/2, 25/32 (closed form).
    z = scores(16, 1024, 3, seed=94)
    x = z @ np.linalg.cholesky(np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.5], [0.0, 0.5, 1.0]])).T
    found = first_order(x, x @ np.array([1.0, 1.0, 2.0]), ["x1", "x2", "x3"])
    assert_shares(without_noise(found.table), "first", [0.125, 0.5, 0.78125])
    # A switch, off in half of all samples, beside a normal: variances 1/4 and 1, and 1/4 of both together.
    switch = (z[..., 0] > 0) * 1.0
    found = first_order(np.stack([switch, z[..., 1]], axis=-1), switch + z[..., 1], ["switch", "rest"])
    assert_shares(without_noise(found.table), "first", [0.2, 0.8], error=1e-4)


def test_refusals():
    z = scores(4, 64, 2, seed=95)
    names = ["a", "b"]
    with pytest.raises(DomainError, match="at least 3"):
        first_order(z[:2], z[:2, :, 0], names)
    with pytest.raises(DomainError, match="does not vary"):
        first_order(z, np.full((4, 64), 31.27), names)
    with pytest.raises(DomainError, match="inputs that are numbers"):
        first_order(np.where(z > 2, np.nan, z), z[..., 0], names)
    with pytest.raises(DomainError, match="infinite"):
        first_order(z, np.where(z[..., 0] > 2, np.inf, 0.0), names)
    with pytest.raises(DomainError, match="expected inputs"):
        first_order(z, z[..., 0], ["a"])
