"""Doubling the samples until an asked-for precision is met."""

import math

import numpy as np
import pytest

from overbank.analysis.automatic import Wanted, search
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.errors import DomainError


def shrinking(samples):
    """A half width of 1/sqrt(samples), as of independent samples."""
    half = 1.0 / math.sqrt(samples)
    return {"level": Estimate(32.0, 32.0 - half, 32.0 + half, "")}


def test_stops_at_the_first_doubling_that_is_precise_enough():
    found = search(shrinking, {"level": Wanted(0.02)}, first=128, most=1 << 20)
    # 1/sqrt(n) <= 0.02 from n = 2500 on
    assert [step.samples for step in found.steps] == [128, 256, 512, 1024, 2048, 4096]
    assert found.met
    assert found.samples == 4096
    assert found.words == "4096 samples give the precision asked for."
    assert found.steps[-1].found["level"].value == 32.0


def test_says_when_it_was_not_met():
    found = search(shrinking, {"level": Wanted(0.02)}, first=128, most=2047)
    assert not found.met
    assert found.samples == 1024
    assert found.words == (
        "Even 1024 samples do not give the precision asked for: level has plus or minus 0.0312, wanted is 0.02."
    )


def test_every_figure_must_be_met_and_a_share_may_do():
    def both(samples):
        return {**shrinking(samples), "probability": Estimate(0.5, 0.5 - 2 / samples, 0.5 + 2 / samples, "")}

    by_share = search(both, {"level": Wanted(1.0), "probability": Wanted(1e-9, share=0.1)}, 8, 1 << 20)
    assert by_share.samples == 64  # 2/n <= 0.05 from n = 40 on
    assert search(both, {"level": Wanted(0.1), "probability": Wanted(1e-9, share=0.1)}, 8, 1 << 20).samples == 128
    assert not search(both, {"level": Wanted(0.1), "probability": Wanted(1e-9)}, 8, 1 << 10).met


def test_a_narrow_interval_alone_is_not_believed():
    def jumping(samples):
        value = {8: 1.0, 16: 2.0}.get(samples, 3.0)
        return {"p": Estimate(value, value - 0.01, value + 0.01, "")}

    found = search(jumping, {"p": Wanted(0.1)}, 8, 1 << 10)
    assert found.samples == 64  # 1, 2, 3 and 3 again
    alone = search(jumping, {"p": Wanted(0.1)}, 8, 8)
    assert not alone.met
    assert "has not been held against twice the samples" in alone.words
    assert "has moved further than its intervals allow" in search(jumping, {"p": Wanted(0.1)}, 8, 16).words


@pytest.mark.parametrize("end", [math.nan, math.inf])
def test_without_an_interval_it_is_never_met(end):
    def endless(_samples):
        return {"p": Estimate(1e-5, 0.0 if math.isinf(end) else end, end, "")}

    found = search(endless, {"p": Wanted(1.0, share=0.5)}, 8, 64)
    assert not found.met
    assert "p has no interval" in found.words


def test_an_endless_figure_is_not_precise_by_a_share_of_itself():
    assert Wanted(0.1, share=0.1).at(Estimate(math.inf, 1.0, math.inf, "")) == 0.1


def test_the_precision_asked_for_is_the_error_that_comes():
    # mean of a fair coin from 16 replicates: off by more than the asked-for 0.01 in about one search of twenty
    outside = 0
    for seed in range(100):
        rng = np.random.default_rng(seed)

        def coin(samples, rng=rng):
            return {"p": over_replicates(rng.binomial(samples // 16, 0.5, 16) / (samples // 16), "")}

        found = search(coin, {"p": Wanted(0.01)}, 64, 1 << 20)
        assert found.met
        outside += abs(found.steps[-1].found["p"].value - 0.5) > 0.01
    assert outside <= 12


@pytest.mark.parametrize(("wanted", "first"), [({}, 8), ({"p": Wanted(0.1)}, 0), ({"p": Wanted(0.1)}, 128)])
def test_refusals(wanted, first):
    with pytest.raises(DomainError, match="expected at least one figure and a number of samples from 1 to 64"):
        search(shrinking, wanted, first, 64)


@pytest.mark.parametrize("precision", [(0.0, 0.0), (math.nan, 0.0), (0.1, -1.0)])
def test_a_precision_that_cannot_be(precision):
    with pytest.raises(DomainError, match="half width above 0"):
        Wanted(*precision)
