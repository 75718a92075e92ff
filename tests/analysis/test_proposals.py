"""Densities to draw rare events from, against SciPy and closed forms."""

import numpy as np
import pytest
from known_answers import four_branches, scores
from scipy.special import ndtr
from scipy.stats import kstest, multivariate_normal, norm

from overbank.analysis.intervals import effective
from overbank.analysis.proposals import Events, Proposal, fitted, pooled, widened
from overbank.analysis.search import sobol_points

MIXTURE = Proposal(
    np.array([0.1, 0.6, 0.3]), np.array([[0, 0, 0], [2.0, 1.0, -1.0], [0.0, -3.0, 0.5]]), np.array([1.0, 1.0, 2.0])
)


def drawn(proposal, samples=2**13, seed=1):
    dimension = proposal.centres.shape[1]
    return proposal.draw(sobol_points(np.random.default_rng(seed), samples, dimension + 1))


def test_density_ratio_as_scipy_has_it():
    z = scores(1, 64, 3, seed=1)[0]
    density = sum(
        share * multivariate_normal.pdf(z, centre, spread**2)
        for share, centre, spread in zip(MIXTURE.shares, MIXTURE.centres, MIXTURE.spreads, strict=True)
    )
    np.testing.assert_allclose(np.exp(MIXTURE.log_ratio(z)), density / multivariate_normal.pdf(z, np.zeros(3)))


def test_draws_follow_the_density():
    z = drawn(MIXTURE)
    np.testing.assert_allclose(z.mean(axis=0), MIXTURE.shares @ MIXTURE.centres, atol=0.02)
    for axis in range(3):

        def cumulative(x, axis=axis):
            parts = norm.cdf((x[:, None] - MIXTURE.centres[:, axis]) / MIXTURE.spreads)
            return parts @ MIXTURE.shares

        assert kstest(z[:, axis], cumulative).statistic < 0.01


def test_weights_bring_any_mean_back_and_never_exceed_ten():
    z = drawn(MIXTURE)
    weights = np.exp(-MIXTURE.log_ratio(z))
    assert weights.max() <= 10.0
    assert weights.mean() == pytest.approx(1.0, abs=0.01)
    assert np.mean(weights * (z[:, 0] > 1)) == pytest.approx(ndtr(-1), abs=0.01)  # closed form
    assert np.mean(weights * z[:, 1] ** 2) == pytest.approx(1.0, abs=0.05)


def test_the_second_coordinate_runs_along_the_centre():
    centre = np.array([[3.0, -4.0, 12.0]])
    alone = Proposal(np.ones(1), centre, np.ones(1))
    points = sobol_points(np.random.default_rng(2), 64, 4)
    along = (alone.draw(points) - centre) @ centre[0] / 13
    np.testing.assert_allclose(ndtr(along), points[:, 1], atol=1e-12)
    for direction in ([1.0, 0.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 0.0]):
        z = Proposal(np.ones(1), np.array([direction]), np.ones(1)).draw(points)
        np.testing.assert_allclose(np.abs(ndtr(z - direction) - 0.5), np.abs(points[:, 1:] - 0.5), atol=1e-12)


def test_samples_of_several_proposals_together():
    wide = widened(2, 3.0)
    together = pooled([widened(2, 1.0), wide], [300, 100])
    z = scores(1, 32, 2, seed=3)[0]
    np.testing.assert_allclose(np.exp(together.log_ratio(z)), 0.75 + 0.25 * np.exp(wide.log_ratio(z)))
    np.testing.assert_allclose(np.exp(wide.log_ratio(z)), np.exp(4 / 9 * np.sum(z**2, axis=1)) / 9)  # closed form


def test_a_mixture_among_several_keeps_its_shares():
    together = pooled([widened(3, 1.0), MIXTURE], [300, 100])
    np.testing.assert_allclose(together.shares, [0.75, 0.025, 0.15, 0.075])
    z = scores(1, 32, 3, seed=4)[0]
    np.testing.assert_allclose(np.exp(together.log_ratio(z)), 0.75 + 0.25 * np.exp(MIXTURE.log_ratio(z)))


def events(over, z, drawn_from):
    chosen = over(z)
    return Events(z[chosen], -drawn_from.log_ratio(z[chosen]), drawn_from.log_ratio(z[chosen]))


@pytest.mark.parametrize("beta", [2.0, 4.0])
def test_one_design_point_is_the_mean_of_the_tail(beta):
    wide = widened(3, 2.5)
    fit = fitted(events(lambda z: z[:, 0] > beta, drawn(wide), wide))
    expected = [norm.pdf(beta) / norm.sf(beta), 0, 0]  # mean of a normal above beta, closed form
    np.testing.assert_allclose(fit.centres, [[0, 0, 0], expected], atol=0.15)
    np.testing.assert_allclose(fit.shares, [0.1, 0.9])


def test_every_branch_gets_a_centre_and_its_share():
    wide = widened(2, 2.0)
    fit = fitted(events(lambda z: four_branches(z, 7) < 0, drawn(wide), wide))
    assert len(fit.shares) == 5
    assert fit.shares.sum() == pytest.approx(1.0)
    order = np.argsort(np.linalg.norm(fit.centres, axis=1))
    near, far = fit.shares[order[1:3]].sum(), fit.shares[order[3:]].sum()
    assert far / (near + far) == pytest.approx(2 * ndtr(-3.5) / 2.2227950662e-3, abs=0.03)  # 0.209, one integral


def test_effective_number():
    assert effective(np.ones(7)) == 7.0
    assert effective(np.array([1.0, 0.0, np.nan])) == 1.0
    assert effective(np.zeros(3)) == 0.0
