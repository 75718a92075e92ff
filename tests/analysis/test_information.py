"""Worth of information against closed forms: a straight gain, and the loss of a rare overtopping."""

import numpy as np
import pytest
from known_answers import scores, standard_error
from scipy import integrate, stats
from scipy.special import ndtr

from overbank.analysis import information
from overbank.analysis.survey import result
from overbank.errors import DomainError

MEAN, SLOPES = -0.3, np.array([1.0, 0.5, 0.05])
NONE = 0.0


def straight_worth(slope):
    """EVPPI of one input of d = m + sum s_i z_i: s phi(m/s) - |m| Phi(-|m|/s) (closed form)."""
    return slope * stats.norm.pdf(MEAN / slope) - abs(MEAN) * ndtr(-abs(MEAN) / slope)


def is_near(found, truth):
    return abs(found.value - truth) <= 4 * standard_error(found.low, found.high, 16)


def test_the_closed_form_itself():
    # computed independently for the same case: 0.26676, 0.08434, about 0; everything 0.31242
    np.testing.assert_allclose([straight_worth(s) for s in SLOPES], [0.26676, 0.08434, 0.0], atol=5e-6)
    assert straight_worth(np.sqrt(np.sum(SLOPES**2))) == pytest.approx(0.31242, abs=5e-6)


def test_a_straight_gain():
    z = scores(16, 1024, 3, seed=71)
    gains = MEAN + z @ SLOPES
    chance = information.by_chance(gains, np.random.default_rng(71))
    for j, slope in enumerate(SLOPES):
        found = information.worth(f"x{j}", z[..., j], gains, chance)
        assert is_near(found.worth, straight_worth(slope))
        assert found.fit == "rises with it"
        assert found.by_chance == chance
    assert "not to be told from 0" in found.words
    assert information.worth("x0", -z[..., 0], gains, chance).fit == "falls with it"
    decision = information.choice(gains)
    assert is_near(decision.everything, straight_worth(np.sqrt(np.sum(SLOPES**2))))
    assert is_near(decision.gain, MEAN)
    assert decision.better == "keep as it is"
    assert decision.samples == 16 * 1024
    assert "100000 or more" in decision.note


def test_an_imperfect_survey_is_worth_less():
    # the result of a survey that leaves r of the sd: slope s sqrt(1 - r^2) of the same closed form
    z = scores(16, 4096, 3, seed=72)
    gains = MEAN + z @ SLOPES
    told = result(z[..., 0], 0.6, np.random.default_rng(72))
    assert is_near(information.worth("x0", told, gains, NONE).worth, straight_worth(0.8))


# Overtopping of probability 0.01 costs 50, acting costs 1; the input has 3/4 of the variance. Exact: 0.3970
SHARE, LOSS, COST = 0.75, 50.0, 1.0
LIMIT = stats.norm.isf(0.01)
SIGMA = np.array([np.sqrt(SHARE), np.sqrt((1 - SHARE) / 2), np.sqrt((1 - SHARE) / 2)])


def rare_worth():
    def better(z):
        return stats.norm.pdf(z) * max(0.0, LOSS * ndtr((SIGMA[0] * z - LIMIT) / np.sqrt(1 - SHARE)) - COST)

    return integrate.quad(better, -8, 9, points=[1.5, 2.0, 2.5], limit=200)[0]


def gains_of(z, smooth):
    if smooth:  # the last input integrated out, as the threshold method does
        return information.gain(ndtr((z[..., :2] @ SIGMA[:2] - LIMIT) / SIGMA[2]), LOSS, COST)
    return information.gain(z @ SIGMA > LIMIT, LOSS, COST)


@pytest.mark.parametrize("smooth", [True, False])
def test_the_loss_of_a_rare_overtopping(smooth):
    assert rare_worth() == pytest.approx(0.3970, abs=5e-5)
    z = scores(16, 8192, 3, seed=73)
    gains = gains_of(z, smooth)
    found = information.worth("flow", z[..., 0], gains, information.by_chance(gains, np.random.default_rng(73)))
    assert is_near(found.worth, rare_worth())
    assert found.worth.high - found.worth.low < (0.01 if smooth else 0.04)
    assert found.by_chance < 0.01
    assert found.words == ""


def test_knowing_everything():
    # with 0 or 1 known beforehand: act in the share P of floods, gaining L - C each time
    decision = information.choice(gains_of(scores(16, 8192, 3, seed=74), smooth=False))
    assert is_near(decision.everything, 0.01 * (LOSS - COST))
    assert decision.note == ""


def test_the_conditional_probability_narrows_the_interval():
    z = scores(16, 512, 3, seed=75)
    widths = {}
    for smooth in (True, False):
        found = information.worth("flow", z[..., 0], gains_of(z, smooth), NONE).worth
        assert is_near(found, rare_worth())
        widths[smooth] = found.high - found.low
    assert widths[True] < widths[False]


def test_zero_is_explained():
    z = scores(16, 64, 2, seed=76)
    never = information.gain(0.01 * ndtr(z[..., 0]), LOSS, COST)
    found = information.worth("n", z[..., 0], never, NONE)
    assert (found.worth.value, found.worth.high) == (0.0, 0.0)
    assert (
        found.words == '0: no decision would change, "keep as it is" stays the better choice whatever n turns out to be'
    )
    always = information.gain(0.5 + 0.5 * ndtr(z[..., 0]), LOSS, COST)
    assert 'change, "act" stays' in information.worth("n", z[..., 0], always, NONE).words
    assert information.choice(always).better == "act"


def test_a_small_gain_is_a_gain_and_money_has_any_unit():
    # p = 1 in every other sample: L / 2 - C = 0.2 with L = 0.6 and C = 0.1 (millions, say)
    gains = information.gain(np.tile([0.0, 1.0], (4, 50)), 0.6, 0.1)
    decision = information.choice(gains)
    assert decision.gain.value == pytest.approx(0.2)
    assert decision.better == "act"


def test_neither_rising_nor_falling_goes_by_bins():
    # d = z^2 - 2: worth E[max(0, z^2 - 2)] = 2 sqrt(2) phi(sqrt 2) - 2 Phi(-sqrt 2) (closed form)
    z = scores(16, 4096, 1, seed=77)[..., 0]
    found = information.worth("x", z, z**2 - 2.0, NONE)
    assert found.fit == "means of 20 bins"
    truth = 2 * (np.sqrt(2) * stats.norm.pdf(np.sqrt(2)) + ndtr(-np.sqrt(2))) - 4 * ndtr(-np.sqrt(2))
    assert found.worth.value == pytest.approx(truth, rel=0.04)  # the price of bins


def test_an_input_of_a_few_values():
    # over the bank with probability 0.5 when blocked (one in ten), else never; known: act when blocked
    rng = np.random.default_rng(78)
    blocked = rng.random((16, 4096)) < 0.1
    gains = information.gain(blocked & (rng.random(blocked.shape) < 0.5), 20.0, 2.0)
    found = information.worth("blocked", blocked.astype(float), gains, NONE)
    assert is_near(found.worth, 0.1 * (10.0 - 2.0))


def test_a_remaining_probability_and_failed_runs():
    assert information.gain(np.array([0.5]), 10.0, 1.0, remaining=0.2).tolist() == [2.0]
    z = scores(16, 1024, 3, seed=79)
    gains = MEAN + z @ SLOPES
    gains[:, 5] = np.nan
    assert is_near(information.worth("x", z[..., 0], gains, NONE).worth, straight_worth(1.0))
    found = information.choice(gains)
    assert found.samples == 16 * 1023
    assert "16 of 16384 samples failed and are left out" in found.note
    gains[:, :11] = np.nan
    for refused in (
        lambda: information.choice(gains),
        lambda: information.worth("x", z[..., 0], gains, NONE),
        lambda: information.by_chance(gains, np.random.default_rng(1)),
    ):
        with pytest.raises(DomainError, match="176 of 16384 samples failed; more than 1% is refused"):
            refused()


def test_refusals():
    with pytest.raises(DomainError, match="loss and a cost above 0; got 0 and 1"):
        information.gain(np.zeros(3), 0.0, 1.0)
    with pytest.raises(DomainError, match="in every replicate"):
        information.choice(np.full((4, 8), np.nan))
    with pytest.raises(DomainError, match="worth of n: expected its values"):
        information.worth("n", np.zeros((4, 7)), np.zeros((4, 8)), NONE)
    with pytest.raises(DomainError, match="at least 3"):
        information.worth("n", np.zeros((2, 8)), np.zeros((2, 8)), NONE)


def test_the_table_puts_the_most_worth_first():
    z = scores(16, 256, 3, seed=80)
    gains = MEAN + z @ SLOPES
    found = [information.worth(f"x{j}", z[..., j], gains, NONE) for j in (2, 0, 1)]
    assert information.table(found)["input"].tolist() == ["x0", "x1", "x2"]


@pytest.mark.slow
@pytest.mark.parametrize("smooth", [True, False])
def test_intervals_cover(smooth):
    inside = 0
    for seed in range(200):
        z = scores(16, 512, 3, seed=1000 + seed)
        found = information.worth("flow", z[..., 0], gains_of(z, smooth), NONE).worth
        inside += found.low <= rare_worth() <= found.high
    print(f"worth of knowing, {'smooth' if smooth else 'counted'} gains: {inside / 200:.1%} of 200")
    assert 0.90 <= inside / 200 <= 0.99
