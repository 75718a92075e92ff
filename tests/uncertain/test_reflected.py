"""The negative of a number, and a rare event that a bank and a roughness rule, by integrating out the bank."""

import math

import numpy as np
import pytest
from scipy.special import ndtr

from overbank.analysis import rare
from overbank.analysis.ladder import critical, tail_probability
from overbank.analysis.overtopping import plain
from overbank.analysis.pilot import direction
from overbank.uncertain.bounded import InflatedBeta
from overbank.uncertain.dependence import Copula
from overbank.uncertain.designs import scores
from overbank.uncertain.distributions import Lognormal, Normal
from overbank.uncertain.reflected import Reflected, ReflectedGiven


@pytest.mark.parametrize("own", [Normal(2.0, 0.5), Lognormal(3.0, 0.3), InflatedBeta(0.2, 1.5, 2.5, 0.05)])
def test_the_negative_has_the_chances_turned_about(own):
    ours, x = Reflected(own), np.linspace(-3.0, 0.1, 32)
    np.testing.assert_allclose(ours.cdf(x), 1.0 - ndtr(own.score_below(-x)), atol=1e-14)
    z = np.linspace(-4.0, 4.0, 17)
    np.testing.assert_array_equal(ours.value(z), -own.value(-z))
    assert (ours.mean, ours.sd, ours.median) == (-own.mean, own.sd, pytest.approx(-own.median))
    assert ours.support == (-own.support[1], -own.support[0])
    assert [chance for _, chance in ours.atoms] == [chance for _, chance in own.atoms][::-1]


def test_a_rare_event_that_bank_and_roughness_rule():
    # Level 30 + x, bank normal(31, 0.1), x normal(0, 0.17): P = Phi(-1/hypot(0.1, 0.17)) = 1.99e-7 (closed form). No
    # flow and no blockage takes part. The plain count sees nothing.
    bank, rough = Normal(31.0, 0.1), scores("sobol", 16 * 1024, 2, 1, 16)
    level = 30.0 + 0.17 * rough[..., 0]
    nodes = bank.value(np.linspace(-8.0, 8.0, 17))
    assert direction((level - nodes[:, None, None]).reshape(17, -1), 1e-4) == -1
    negative = Reflected(bank)
    turned = -nodes[::-1]

    def conditional(z):
        depths = 30.0 + 0.17 * z[:, 0] + turned[:, None, None]  # level - bank, bank = - node: rises with the negative
        return tail_probability(critical(turned, depths).value, negative.score_below)[0]

    pilot = rough.reshape(-1, 2)[:1024, :1]
    found = rare.probability(conditional, pilot, conditional(pilot), seed=2)
    exact = float(ndtr(-1.0 / math.hypot(0.1, 0.17)))
    assert plain(level - bank.value(rough[..., 1]), "sobol").value == 0.0
    assert found.low <= exact <= found.high
    assert found.value == pytest.approx(exact, rel=0.05)


def test_with_dependence_the_score_takes_the_other_sign():
    # Score pair with correlation r: P(-Z >= s | y) = Phi((-r y - s)/sqrt(1 - r^2)), closed form.
    copula = Copula.from_rank_correlations("ab", {("a", "b"): 0.5})
    z, r = np.array([[0.3, 1.1], [0.0, -0.4]]), 2.0 * math.sin(math.pi / 12.0)
    ours, at = ReflectedGiven(copula.given(0, z)), np.array([0.5, -0.2])
    spread = math.sqrt(1.0 - r**2)
    np.testing.assert_allclose(ours.above(at), ndtr((-r * z[:, 1] - at) / spread), rtol=1e-12)
    np.testing.assert_allclose(ours.density(at), copula.given(0, z).density(-at))
    np.testing.assert_allclose(ours[:1].above(at[:1]), ours.above(at)[:1])


@pytest.mark.parametrize(
    ("depths", "expected"),
    [
        ([[0.0, 1.0], [1.0, 1.0], [1.0, 2.0]], 1),
        ([[2.0, 1.0], [1.0, 1.0], [1.0, 0.0]], -1),
        ([[0.0, 1.0], [0.0, 1.0], [0.0, 1.0]], 0),
        ([[0.0, 1.0], [1.0, 0.0], [2.0, -1.0]], None),
        ([[0.0, math.nan], [1.0, 0.0], [2.0, -1.0]], None),
        ([[math.nan, math.nan], [1.0, 0.0]], None),
    ],
)
def test_direction_of_an_input(depths, expected):
    assert direction(np.array(depths), 1e-4) == expected


def test_one_sample_in_a_hundred_may_fall():
    depths = np.array([np.zeros(200), np.ones(200)])
    depths[1, 0] = -1.0
    assert direction(depths, 1e-4) == 1
    depths[1, :10] = -1.0
    assert direction(depths, 1e-4) is None
