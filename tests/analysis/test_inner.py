"""The inner error of the states of knowledge, against quadrature and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtr, roots_jacobi

from overbank.analysis import inner
from overbank.uncertain.bounded import InflatedBeta
from overbank.uncertain.dependence import Copula
from overbank.uncertain.distributions import Normal
from overbank.uncertain.nested import nested_scores, net_shifts, weighted_floods

Array = NDArray[np.float64]

DEBRIS = InflatedBeta(0.3, 1.2, 3.0, 0.03)


def chance(x: Array, blocked: Array) -> Array:
    """Of going over in a year with knowledge x and this blockage (invented)."""
    return np.asarray(ndtr(-2.5 + 0.2 * x + 5.0 * blocked))


def right(x: Array) -> Array:
    """The mean over the blockage, its lumps by themselves and SciPy's Gauss-Jacobi points between them."""
    at, weights = roots_jacobi(60, DEBRIS.b - 1.0, DEBRIS.a - 1.0)
    places = np.concatenate([[0.0, 1.0], 0.5 + 0.5 * at])
    between = (1.0 - DEBRIS.at_zero - DEBRIS.at_one) * weights / weights.sum()
    return np.asarray(chance(x[..., np.newaxis], places) @ np.concatenate([[DEBRIS.at_zero, DEBRIS.at_one], between]))


def floods(states: int, inside: int, seed: int) -> tuple[Array, Array, Array, Array]:
    """Knowledge of each state (R, S), and of its floods their chances, weights and shifts."""
    z = nested_scores("sobol", states, inside, 1, 2, seed, 16, nets=2)
    shifts = net_shifts(z[..., 1:2], 2)
    moved, weights = weighted_floods(z, Copula.from_rank_correlations("xbq", {}), {1: DEBRIS})
    return z[:, :, 0, 0], chance(moved[..., 0], DEBRIS.value(moved[..., 1])), weights, shifts


@pytest.mark.parametrize(("states", "inside", "least"), [(4, 16, 8.0), (8, 32, 8.0)])
def test_what_all_states_err_by_alike_is_taken_out(states: int, inside: int, least: float) -> None:
    """The error of the states falls by so much, its variance is as told, and their mean has no bias."""
    before, after, said, bias = [], [], [], []
    for seed in range(12):
        x, each, weights, shifts = floods(states, inside, seed)
        exact = right(x)
        plain, _ = inner.told(each, weights)
        found, variance = inner.told(each, weights, shifts)
        before.append(np.mean((plain - exact) ** 2))
        after.append(np.mean((found - exact) ** 2))
        said.append(np.mean(variance))
        bias.append(np.mean(found - exact))
    assert np.sqrt(np.mean(before) / np.mean(after)) > least
    assert np.mean(said) == pytest.approx(np.mean(after), rel=0.2)
    assert abs(np.mean(bias)) < 4.0 * np.std(bias) / np.sqrt(len(bias)) + 1e-6


def test_two_numbers_anew() -> None:
    """P(y1 + y2/2 > 2 - x/5), normal numbers: Phi((x/5 - 2)/sqrt(5/4)), closed form."""
    before, after = [], []
    for seed in range(12):
        z = nested_scores("sobol", 8, 32, 1, 3, seed, 16, nets=2)
        shifts = net_shifts(z[..., 1:3], 2)
        copula = Copula.from_rank_correlations("xyvq", {})
        moved, weights = weighted_floods(z, copula, {1: Normal(0.0, 1.0), 2: Normal(0.0, 1.0)})
        each = ndtr((moved[..., 1] + 0.2 * moved[..., 0] - 2.0) / 0.5)
        exact = ndtr((0.2 * z[:, :, 0, 0] - 2.0) / np.sqrt(1.25))
        before.append(np.mean((inner.told(each, weights)[0] - exact) ** 2))
        found, variance = inner.told(each, weights, shifts)
        after.append([np.mean((found - exact) ** 2), np.mean(variance)])
    left, said = np.mean(after, axis=0)
    assert np.sqrt(np.mean(before) / left) > 3.0
    assert said == pytest.approx(left, rel=0.2)


def test_errors_that_go_with_the_state_leave_rare_ones_alone() -> None:
    """Probabilities over six orders of magnitude, each half out by a share of its own that goes with its shift."""
    rng = np.random.default_rng(2)
    exact, shifts = 10.0 ** rng.uniform(-8.0, -2.0, (16, 32)), rng.random((16, 32, 2, 1))
    found, variance = inner.told(
        exact[..., np.newaxis] * (1.0 + 0.3 * np.cos(2.0 * np.pi * shifts[..., 0])), shifts=shifts
    )
    assert found == pytest.approx(exact, rel=0.03)
    assert np.max(np.sqrt(variance) / exact) < 0.03


def test_where_shifts_tell_nothing_the_error_stays_as_it_is() -> None:
    """Noise that has nothing to do with the shifts: the states keep their variance, which is told (closed form)."""
    rng = np.random.default_rng(3)
    halves, shifts = 0.3 + 0.01 * rng.standard_normal((16, 64, 2)), rng.random((16, 64, 2, 2))
    found, variance = inner.told(halves, shifts=shifts)
    assert np.mean((found - 0.3) ** 2) == pytest.approx(0.01**2 / 2.0, rel=0.15)
    assert np.mean(variance) == pytest.approx(0.01**2 / 2.0, rel=0.15)


def test_certain_impossible_and_failed_states_stay_so() -> None:
    rng = np.random.default_rng(4)
    shifts = rng.random((16, 16, 2, 1))
    each = 0.2 + 0.1 * np.cos(2.0 * np.pi * shifts[..., 0])
    each[0, 0], each[0, 1], each[0, 2] = 0.0, 1.0, np.nan
    found, variance = inner.told(each, shifts=shifts)
    assert found[0, :2].tolist() == [0.0, 1.0]
    assert np.isnan(found[0, 2])
    assert np.all(variance[0, :3] == 0.0)
    assert np.all((found[1:] > 0.15) & (found[1:] < 0.25))


def test_one_flood_a_state_has_no_inner_error() -> None:
    found, variance = inner.told(np.array([[[0.2], [0.4]]]), shifts=np.empty((1, 2, 1, 0)))
    assert found.tolist() == [[0.2, 0.4]]
    assert not variance.any()
