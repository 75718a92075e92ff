"""The hint that a variance may not exist."""

import numpy as np
import pytest
from known_answers import RIVER_INPUTS, ishigami, loose_river_depth, river_depth, river_inputs, river_overflow, scores

from overbank.analysis.outputs import heavy_tail
from overbank.analysis.tails import unseen_variance
from overbank.errors import DomainError

LOOSE = ["Q", "Ks", "Zv", "Zm"]


@pytest.mark.parametrize("samples", [2**12, 2**20])
def test_a_river_whose_depth_has_no_variance(samples):
    # Density of Ks at 0 is about 1.8e-5 and H ~ Ks^-0.6: the integral of Ks^-1.2 diverges at 0 (closed form).
    words = unseen_variance(loose_river_depth, LOOSE, samples)
    assert "the low end of Ks" in words
    assert not any(f"end of {name}" in words for name in ("Q", "Zv", "Zm"))


def test_samples_alone_do_not_show_it():
    assert heavy_tail(list(loose_river_depth(scores(16, 4096, 4, seed=121)))) == ""


def test_a_datum_lightens_no_tail():
    # exp(3 z): by the same closed form nearly all of the second moment lies beyond z = 4; levels have any datum
    y = np.exp(3.0 * scores(4, 1024, 1, seed=122)[..., 0])
    words = heavy_tail(list(y))
    assert words.startswith("5 of 4096 samples carry ")
    for datum in (-1000.0, 1000.0):
        assert heavy_tail(list(y + datum)) == words


def test_sound_models_raise_no_alarm():
    assert unseen_variance(lambda z: river_depth(river_inputs(z)), RIVER_INPUTS, 2**14) == ""
    assert unseen_variance(lambda z: river_overflow(river_inputs(z)), RIVER_INPUTS, 2**14) == ""
    assert unseen_variance(ishigami, ["x1", "x2", "x3"], 2**10) == ""


@pytest.mark.parametrize(("sigma", "heavy"), [(0.5, False), (1.0, False), (2.0, True)])
def test_lognormal(sigma, heavy):
    # Share of E[y^2] beyond z = 4.0 (32 768 samples) is Phi(2 sigma - 4): 0.1 %, 2 %, 50 % (closed form).
    words = unseen_variance(lambda z: np.exp(sigma * z[:, 0]), ["flow"], 2**15)
    assert ("the high end of flow" in words) == heavy


def test_failed_and_endless_runs_at_the_far_ends_are_left_out():
    def model(z):
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(z[:, 0] > 5, np.inf, np.where(z[:, 0] < -5, np.nan, z[:, 0]))

    assert unseen_variance(model, ["a"], 2**10) == ""
    with pytest.raises(DomainError, match="at their medians"):
        unseen_variance(lambda z: np.where(z[:, 0] == 0, np.nan, z[:, 0]), ["a"], 2**10)
    with pytest.raises(DomainError, match="two samples"):
        unseen_variance(lambda z: z[:, 0], ["a"], 1)
