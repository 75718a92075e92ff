"""The verdict on the number of samples."""

import numpy as np
import pytest
from known_answers import scores

from overbank.analysis.convergence import settling
from overbank.analysis.exceedance import plain_quantile
from overbank.analysis.overtopping import plain, threshold
from overbank.errors import DomainError


@pytest.fixture(scope="module")
def depths():
    return scores(16, 1024, 4, seed=61).sum(axis=-1) / 2 - 1.5


def test_settled(depths):
    found = settling(depths, lambda part: plain(part, "sobol"), wanted_half_width=0.005)
    assert found.settled
    assert found.words.startswith("Settled: ")
    assert found.full.value == np.mean(depths > 0)
    assert found.half.value == np.mean(depths[:, :512] > 0)


def test_the_way_leads_from_a_few_samples_to_all(depths):
    found = settling(depths, lambda part: plain(part, "sobol"), wanted_half_width=0.005)
    assert [samples for samples, _ in found.way] == [16 * 2**k for k in range(5, 11)]
    for samples, each in found.way:
        assert each.value == np.mean(depths[:, : samples // 16] > 0)
    assert found.way[-2:] == ((8192, found.half), (16384, found.full))
    late = np.where(np.arange(1024) < 100, np.nan, depths)  # no number in the first samples: passed over
    way = settling(late, lambda part: plain(part, "sobol"), wanted_half_width=0.005).way
    assert [samples for samples, _ in way] == [16 * 2**k for k in range(7, 11)]


def test_figures_are_said_to_a_tenth_of_what_is_wanted(depths):
    found = settling(depths, lambda part: plain_quantile(part, 0.1, "sobol"), 0.02, unit="m")
    assert f"{found.full.value:.3f} m from all of them" in found.words


def test_too_wide_names_how_many_more_samples(depths):
    reached = plain(depths, "sobol")
    half_width = (reached.high - reached.low) / 2
    found = settling(depths, lambda part: plain(part, "sobol"), wanted_half_width=half_width / 1.9)
    assert not found.settled
    assert "up to 4 times the samples" in found.words


def test_disagreement_is_not_settled():
    table = np.concatenate([np.full((4, 50), 0.1), np.full((4, 50), 0.9)], axis=1)
    table += np.linspace(-0.001, 0.001, 4)[:, None]
    found = settling(table, threshold, wanted_half_width=0.1)
    assert not found.settled
    assert "do not overlap" in found.words
    assert settling(table, threshold, wanted_half_width=0.5).settled  # 0.1 and 0.5: close enough for what is wanted


def test_a_quantile_with_its_unit(depths):
    found = settling(depths, lambda part: plain_quantile(part, 0.1, "sobol"), 0.1, unit="m")
    assert found.settled
    assert " m from half" in found.words


def test_without_interval_nothing_can_be_told(depths):
    found = settling(depths[:1], lambda part: plain(part, "sobol"), wanted_half_width=1.0)
    assert not found.settled
    assert found.words.startswith("Cannot tell: ")


def test_nonsense_is_refused(depths):
    with pytest.raises(DomainError, match="half width above"):
        settling(depths, threshold, wanted_half_width=0.0)
    with pytest.raises(DomainError, match="at least two samples"):
        settling(depths[:, :1], threshold, wanted_half_width=0.1)
