"""Numbers given one with which they go, against SciPy and brute integration."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from overbank.uncertain.bounded import Beta, InflatedBeta
from overbank.uncertain.dependence import Copula
from overbank.uncertain.distributions import Normal
from overbank.uncertain.settled import Settled, settled

RARE = float(stats.norm.isf(0.01))
DEBRIS = InflatedBeta(0.2, 1.5, 2.5, 0.05)


def test_normal_numbers_are_those_of_the_conditional_normal() -> None:
    """Three normal numbers given a fourth: means r s and covariances r_ij - r_i r_j (closed form)."""
    pairs = {("a", "q"): 0.5, ("b", "q"): -0.3, ("a", "b"): 0.2}
    copula = Copula.from_rank_correlations(("a", "b", "c", "q"), pairs)
    left, found = settled(copula, "q", RARE, (Normal(1.0, 2.0), Normal(0.0, 1.0), Normal(5.0, 1.0)))
    r = copula.correlation[:3, 3]
    assert (found[0].mean, found[0].sd) == pytest.approx((1.0 + 2.0 * r[0] * RARE, 2.0 * np.sqrt(1.0 - r[0] ** 2)))
    assert found[2] == Normal(5.0, 1.0)
    partial = (copula.correlation[0, 1] - r[0] * r[1]) / np.sqrt((1.0 - r[0] ** 2) * (1.0 - r[1] ** 2))
    assert left.correlation[0, 1] == pytest.approx(partial)
    assert left.names == ("a", "b", "c")


def test_lumps_are_as_likely_as_the_flood_makes_them() -> None:
    """P(shut | flood) = Phi((r s - 1.645)/sqrt(1 - r^2)), closed form."""
    copula = Copula.from_rank_correlations(("b", "q"), {("b", "q"): 0.5})
    (found,) = settled(copula, "q", RARE, (DEBRIS,))[1]
    r = float(copula.correlation[0, 1])
    shut = stats.norm.cdf((r * RARE - stats.norm.isf(0.05)) / np.sqrt(1.0 - r**2))
    assert dict(found.atoms)[1.0] == pytest.approx(shut)
    at = found.value(stats.norm.ppf((np.arange(4096) + 0.5) / 4096))
    assert np.mean(at == 1.0) == pytest.approx(shut, abs=1e-3)
    assert found.mean == pytest.approx(at.mean(), abs=1e-3)


@pytest.mark.parametrize("tail", ["survival_clayton", "gumbel", "t"])
def test_a_pair_with_tails_of_its_own_is_that_of_many_floods_so_rare(tail) -> None:  # type: ignore[no-untyped-def]
    """Samples of the whole copula whose flood is near the settled one have the same distribution."""
    copula = Copula.from_rank_correlations(("b", "q"), {("b", "q"): 0.5}, {("b", "q"): tail}, hub="q")
    assert copula.names[copula.tails[0].hub] == "q"
    (found,) = settled(copula, "q", 1.5, (Beta(1.5, 2.5),))[1]
    z = copula.correlate(np.random.default_rng(3).standard_normal((2_000_000, 2)))
    near = Beta(1.5, 2.5).value(z[np.abs(z[:, 1] - 1.5) < 0.01, 0])
    for share in (0.1, 0.5, 0.9):
        at = float(found.value(stats.norm.ppf(share)))
        error = 4.0 * np.sqrt(share * (1.0 - share) / near.size)
        assert np.mean(near <= at) == pytest.approx(share, abs=error)
        assert found.score(at) == pytest.approx(stats.norm.ppf(share), abs=1e-6)


def test_a_number_in_another_pair_with_tails_is_refused() -> None:
    copula = Copula.from_rank_correlations(("a", "b", "q"), {("a", "b"): 0.5, ("b", "q"): 0.3}, {("a", "b"): "gumbel"})
    with pytest.raises(ValueError, match="no dependence on q beside one with a tail of its own between b and a"):
        settled(copula, "q", 1.0, (DEBRIS, DEBRIS))


def test_its_words_say_how_rare_the_flood_is() -> None:
    assert Settled(DEBRIS, RARE, 0.5).words.endswith("as it is in a flood of the annual probability 0.01")
