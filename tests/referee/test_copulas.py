"""The referee's own dependence beside published points and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special, stats

from referee import tails
from referee.copulas import Dependence, completed
from referee.reading import Pair

# h(0.7|0.6) and h^-1(0.3|0.6), computed from the closed forms in plain Python outside of this project; the Gumbel and
# Clayton formulas reproduce the points that statsmodels' tests/test_copula.py publishes (read there)
AT = (np.array(0.7), np.array(0.6))


def test_conditional_chances() -> None:
    assert float(tails.gumbel(*AT, 2.0)) == pytest.approx(0.7328919, abs=1e-7)
    assert float(tails.clayton(*AT, 2.0)) == pytest.approx(0.6204274, abs=1e-7)
    assert float(1.0 - tails.clayton(1.0 - AT[0], 1.0 - AT[1], 2.0)) == pytest.approx(0.7638974, abs=1e-7)
    assert float(tails.student(*AT, 0.5)) == pytest.approx(0.6983798, abs=1e-7)
    assert float(tails.clayton_inverse(np.array(0.3), np.array(0.6), 2.0)) == pytest.approx(0.4756152, abs=1e-7)


def test_gumbel_copula_at_a_published_point() -> None:
    # Gumbel 2 at (0.5, 0.9): C = 0.4960348880595387 (statsmodels, tests/test_copula.py); C = int_0^0.9 h(0.5|v) dv
    points, weights = np.polynomial.legendre.leggauss(400)
    v = 0.45 * (points + 1.0)
    assert 0.45 * float(weights @ tails.gumbel(np.full(400, 0.5), v, 2.0)) == pytest.approx(
        0.4960348880595387, abs=1e-6
    )


@pytest.mark.parametrize(("word", "rank", "expected"), [("gumbel", 0.5, 1.541070), ("survival_clayton", 0.5, 1.076090)])
def test_parameter_of_a_rank_correlation(word: str, rank: float, expected: float) -> None:
    # Spearman 0.5 by 12 int int C - 3 (closed form, root found outside of this project)
    assert tails.parameter(word, rank) == pytest.approx(expected, abs=2e-4)


@pytest.mark.parametrize("word", tails.WORDS)
def test_scores_have_the_rank_correlation_and_the_conditional_chance(word: str) -> None:
    rng = np.random.default_rng(2)
    first = rng.standard_normal(100_000)
    second = tails.partner(word, 0.5, first, rng.random(first.size))
    assert stats.spearmanr(first, second).statistic == pytest.approx(0.5, abs=0.01)
    assert float(np.std(second)) == pytest.approx(1.0, abs=0.01)
    chance = tails.above(word, 0.5, first, np.full(first.size, 1.3))
    assert float(np.mean(chance)) == pytest.approx(float(special.ndtr(-1.3)), abs=0.002)
    both = np.mean((first > 1.3) & (second > 1.3))
    assert float(np.mean(chance * (first > 1.3))) == pytest.approx(float(both), abs=0.002)


def test_tails_are_heavier_than_the_normal_ones() -> None:
    # P(both above their 99 % quantile) at Kendall 0.5: Gauss 0.00273, Gumbel 0.00589, survival Clayton 0.00707
    assert tails.joint_upper("gumbel", 0.682234, 0.01) == pytest.approx(0.00588721, rel=1e-3)
    assert tails.joint_upper("survival_clayton", 0.682234, 0.01) == pytest.approx(0.00707124, rel=1e-3)


def test_a_partial_set_is_completed() -> None:
    # four-cycle 0.6, 0.5, 0.4 and r14 0.3: r13 0.3371564, r24 0.2803812 (computed outside; its inverse has zeros there)
    matrix = np.eye(4)
    for i, j, r in ((0, 1, 0.6), (1, 2, 0.5), (2, 3, 0.4), (0, 3, 0.3)):
        matrix[i, j] = matrix[j, i] = r
    found = completed(matrix, {(0, 1), (1, 2), (2, 3), (0, 3)})
    assert found[0, 2] == pytest.approx(0.3371564, abs=1e-6)
    assert found[1, 3] == pytest.approx(0.2803812, abs=1e-6)
    assert np.linalg.inv(found)[0, 2] == pytest.approx(0.0, abs=1e-9)


def test_scores_given_others_are_those_of_the_joint_sample() -> None:
    together = Dependence.of(("a", "b", "c"), [Pair(("a", "b"), 0.6, ""), Pair(("b", "c"), -0.4, "")])
    rng = np.random.default_rng(1)
    first = together.extended(rng, 200_000, {}, ("a",))
    both = first | together.extended(rng, 200_000, first, ("b", "c"))
    found = np.corrcoef([both[name] for name in ("a", "b", "c")])
    np.testing.assert_allclose(found, together.matrix, atol=0.01)
    above = together.chance_above("b", np.zeros(200_000), first)
    assert float(np.mean(above * (first["a"] > 1.0))) == pytest.approx(
        float(np.mean((both["b"] > 0.0) & (both["a"] > 1.0))), abs=0.003
    )
