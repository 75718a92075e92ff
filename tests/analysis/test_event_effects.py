"""Shapley effects of an event, with dependence, against the bivariate normal distribution."""

from itertools import permutations

import numpy as np
import pytest
from known_answers import assert_shares, scores
from scipy.special import ndtr
from scipy.stats import multivariate_normal

from overbank.analysis.event_effects import event_effects
from overbank.errors import DomainError

NAMES = ["flow", "blockage", "roughness"]
LOADS = np.array([1.0, 0.8, 0.5])
DEPENDENT = np.array([[1.0, 0.5, 0.0], [0.5, 1.0, -0.3], [0.0, -0.3, 1.0]])


def explained(correlation, known):
    """Share of the variance of the linear depth over the bank that is known: conditional covariance of the rest."""
    rest = [i for i in range(3) if i not in known]
    given = correlation[np.ix_(rest, rest)]
    if known:
        weights = np.linalg.solve(correlation[np.ix_(known, known)], correlation[np.ix_(known, rest)])
        given = given - correlation[np.ix_(rest, known)] @ weights
    return 1.0 - LOADS[rest] @ given @ LOADS[rest] / (LOADS @ correlation @ LOADS)


def share_of_event(correlation, beta, known):
    """(P(both over) - P^2)/(P (1 - P)): depths over the bank of two samples that share `known` are bivariate normal."""
    chance = ndtr(-beta)
    r = explained(correlation, known)
    if r > 1.0 - 1e-9:
        return 1.0
    both = multivariate_normal([0.0, 0.0], [[1.0, r], [r, 1.0]]).cdf([-beta, -beta])
    return (both - chance**2) / (chance * (1.0 - chance))


def exact(correlation, beta):
    """Shapley, first-order and total shares by the definition, over every order."""
    value = {key: share_of_event(correlation, beta, list(key)) for key in subsets()}
    shapley = np.zeros(3)
    for order in permutations(range(3)):
        for place, i in enumerate(order):
            shapley[i] += (value[tuple(sorted(order[: place + 1]))] - value[tuple(sorted(order[:place]))]) / 6.0
    first = [value[(i,)] for i in range(3)]
    total = [1.0 - value[tuple(j for j in range(3) if j != i)] for i in range(3)]
    return shapley, first, total


def subsets():
    return [tuple(i for i in range(3) if k >> i & 1) for k in range(8)]


def found_by(correlation, beta, integrated, samples=256, seed=3, groups=None):
    size, column = beta * np.sqrt(LOADS @ correlation @ LOADS), NAMES.index(integrated)

    def critical_score(z):
        rest = z @ LOADS - LOADS[column] * z[:, column]
        return (size - rest) / LOADS[column]

    z = scores(16, samples, 6, seed)
    return event_effects(critical_score, z[..., :3], z[..., 3:], correlation, NAMES, integrated, groups)


@pytest.mark.parametrize("integrated", NAMES)
@pytest.mark.parametrize("correlation", [np.eye(3), DEPENDENT], ids=["independent", "dependent"])
def test_linear_event(integrated, correlation):
    found = found_by(correlation, 1.5, integrated)
    for kind, shares in zip(("shapley", "first", "total"), exact(correlation, 1.5), strict=True):
        assert_shares(found.table, kind, shares, error=1e-4)
    assert found.table["shapley"].sum() == pytest.approx(1.0, abs=1e-12)
    assert (found.rows, found.dropped) == (16 * 256, 0)


def test_a_rare_event_needs_no_events():
    # P = Phi(-3) = 1.35e-3: five or six of these 4096 samples would go over
    found = found_by(DEPENDENT, 3.0, "flow")
    for kind, shares in zip(("shapley", "first"), exact(DEPENDENT, 3.0), strict=False):
        assert_shares(found.table, kind, shares, error=5e-4)


def test_groups_share_one_figure():
    found = found_by(DEPENDENT, 1.5, "flow", groups={"water": ["flow", "roughness"]})
    assert found.table["input"].tolist() == ["water", "blockage"]
    value = [share_of_event(DEPENDENT, 1.5, list(known)) for known in ((0, 2), (1,))]
    assert_shares(found.table, "first", value, error=1e-4)


def test_refusals():
    z = scores(4, 64, 4, 1)
    a, b, two = z[..., :2], z[..., 2:], ["x", "y"]
    with pytest.raises(DomainError, match="expected an integrated input among x, y; got 'q'"):
        event_effects(lambda z: z[:, 0], a, b, np.eye(2), two, "q")
    with pytest.raises(DomainError, match="never happens"):
        event_effects(lambda z: np.full(len(z), np.inf), a, b, np.eye(2), two, "x")
    with pytest.raises(DomainError, match="is certain"):
        event_effects(lambda z: np.full(len(z), -np.inf), a, b, np.eye(2), two, "x")
    with pytest.raises(DomainError, match="hold a failed run"):
        event_effects(lambda z: np.where(z[:, 1] > 0, np.nan, 0.0), a, b, np.eye(2), two, "x")
    with pytest.raises(DomainError, match="positive definite"):
        event_effects(lambda z: z[:, 1], a, b, np.ones((2, 2)), two, "x")
