"""Shapley effects, and first-order and total shares under dependence, against closed forms and reference values."""

from itertools import permutations

import numpy as np
import pytest
from known_answers import (
    ISHIGAMI_FIRST,
    ISHIGAMI_TOTAL,
    RIVER_INPUTS,
    assert_shares,
    ishigami,
    river_inputs,
    river_overflow,
    scores,
)

from overbank.analysis.shapley import MEANINGS, shapley_effects
from overbank.errors import DomainError

KINDS = ("shapley", "first", "total")


def effects_of(model, samples, correlation, names, seed, groups=None):
    d = len(names)
    z = scores(16, samples, 2 * d, seed)
    return shapley_effects(model, z[..., :d], z[..., d:], np.asarray(correlation), names, groups)


# --- y = X1 + X2 + 2 X3 with normal X, only X2 and X3 correlated: closed form for every subset of the inputs ---

LOADS = np.array([1.0, 1.0, 2.0])
LINEAR = {
    0.0: ([1 / 6, 1 / 6, 2 / 3],) * 3,
    0.5: ([0.125, 0.296875, 0.578125], [0.125, 0.5, 0.78125], [0.125, 0.09375, 0.375]),
    0.9: ([0.104167, 0.418229, 0.477604], [0.104167, 0.816667, 0.876042], [0.104167, 0.019792, 0.079167]),
    -0.8: ([0.357143, 0.128571, 0.514286],) * 3,
}


def linear_correlation(rho):
    return np.array([[1.0, 0.0, 0.0], [0.0, 1.0, rho], [0.0, rho, 1.0]])


def explained(correlation, known):
    """Var(E[y | known]) / Var(y) of the linear model, from the conditional covariance of the rest."""
    rest = [i for i in range(3) if i not in known]
    given = correlation[np.ix_(rest, rest)]
    if known:
        weights = np.linalg.solve(correlation[np.ix_(known, known)], correlation[np.ix_(known, rest)])
        given = given - correlation[np.ix_(rest, known)] @ weights
    return 1 - LOADS[rest] @ given @ LOADS[rest] / (LOADS @ correlation @ LOADS)


@pytest.mark.parametrize("rho", LINEAR)
def test_linear_closed_form(rho):
    C = linear_correlation(rho)
    gains = np.zeros(3)
    for order in permutations(range(3)):  # the definition: mean gain over every order of learning
        for place, i in enumerate(order):
            gains[i] += (explained(C, sorted(order[: place + 1])) - explained(C, sorted(order[:place]))) / 6
    np.testing.assert_allclose(LINEAR[rho][0], gains, atol=5e-7)
    found = effects_of(lambda z: z @ LOADS, 512, C, ["x1", "x2", "x3"], seed=101)
    for kind, exact in zip(KINDS, LINEAR[rho], strict=True):
        assert_shares(found.table, kind, exact, error=5e-7)
    assert found.table["shapley"].sum() == pytest.approx(1.0, abs=1e-12)
    assert (found.rows, found.dropped, found.runs, found.warning) == (16 * 512, 0, 8 * 16 * 512, "")
    assert set(MEANINGS) == set(KINDS)


def test_ishigami_without_dependence():
    # Closed form: x1 and x3 share their interaction, 0.243683664, half and half.
    found = effects_of(ishigami, 512, np.eye(3), ["x1", "x2", "x3"], seed=102)
    half = 0.243683664 / 2
    assert_shares(found.table, "shapley", [ISHIGAMI_FIRST[0] + half, ISHIGAMI_FIRST[1], half])
    assert_shares(found.table, "first", ISHIGAMI_FIRST)
    assert_shares(found.table, "total", ISHIGAMI_TOTAL)


# --- River with a dyke, S, with Q-Ks, Zv-Zm and L-B correlated: all 254 subsets were enumerated independently ---


def river_correlation():
    C = np.eye(8)
    for (i, j), rho in {(0, 1): 0.5, (2, 3): 0.3, (6, 7): 0.3}.items():
        C[i, j] = C[j, i] = rho
    return C


RIVER = {  # dependent?: (Shapley, first, total), Q Ks Zv Zm Hd Cb L B; four digits
    True: (
        [0.2762, 0.0661, 0.2289, 0.0056, 0.3761, 0.0470, 5e-5, 5e-5],
        [0.2163, 0.0062, 0.2303, 0.0070, 0.3761, 0.0470, 5e-5, 5e-5],
        [0.3363, 0.1260, 0.2275, 0.0042, 0.3761, 0.0470, 5e-5, 5e-5],
    ),
    False: (
        [0.3492, 0.1380, 0.1897, 0.0036, 0.2838, 0.0355, 5e-5, 5e-5],
        [0.34485, 0.13377, 0.18958, 0.00346, 0.28382, 0.03548, 0.0, 0.00009],
        [0.35359, 0.14225, 0.18993, 0.00381, 0.28382, 0.03548, 0.0, 0.00010],
    ),
}


@pytest.mark.parametrize("dependent", [True, False])
def test_river(dependent):
    C = river_correlation() if dependent else np.eye(8)
    found = effects_of(lambda z: river_overflow(river_inputs(z)), 64, C, RIVER_INPUTS, seed=103)
    for kind, reference in zip(KINDS, RIVER[dependent], strict=True):
        assert_shares(found.table, kind, reference, error=5e-5)
    widths = found.table["shapley_high"] - found.table["shapley_low"]
    assert widths.iloc[-2:].max() < 0.003  # what does next to nothing is seen to, with 1024 samples of each subset


def test_groups_share_one_figure():
    C = linear_correlation(0.5)
    found = effects_of(lambda z: z @ LOADS, 256, C, ["x1", "x2", "x3"], 106, groups={"pair": ["x2", "x3"]})
    assert found.table["input"].tolist() == ["x1", "pair"]
    for kind in KINDS:  # the pair is independent of x1: variance 7 of 8
        assert_shares(found.table, kind, [1 / 8, 7 / 8])
    assert found.runs == 4 * 16 * 256


def test_refusals():
    names = [f"x{i}" for i in range(9)]
    with pytest.raises(DomainError, match=r"at most 8 inputs or groups; got 9.*groups"):
        effects_of(lambda z: z.sum(-1), 64, np.eye(9), names, seed=107)
    with pytest.raises(DomainError, match="does not vary"):
        effects_of(lambda z: np.full(len(z), 31.27), 64, np.eye(2), names[:2], seed=107)
    with pytest.raises(DomainError, match="infinite"):
        effects_of(lambda z: np.where(z[:, 0] > 2, np.inf, z[:, 0]), 64, np.eye(2), names[:2], seed=107)
    for wrong in ([[1.0, 1.2], [1.2, 1.0]], [[1.0, 0.3], [0.1, 1.0]], [[1.0, np.nan], [np.nan, 1.0]], np.eye(3)):
        with pytest.raises(DomainError, match="positive definite"):
            effects_of(lambda z: z.sum(-1), 64, wrong, names[:2], seed=107)
    z = scores(4, 256, 2, seed=107)
    with pytest.raises(DomainError, match="sample correlation of 1"):
        shapley_effects(lambda z: z.sum(-1), z, z.copy(), np.eye(2), names[:2])
