"""Worth of knowing more before choosing: the closed form of a normal benefit, one survey and several together."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from overbank.analysis import knowing
from overbank.analysis.intervals import Array
from overbank.analysis.survey import result
from overbank.errors import DomainError

REPLICATES, STATES = 16, 1024


def normal_worth(mean: float, sd: float) -> float:
    """s phi(m/s) + m Phi(m/s) - max(m, 0): worth of a sign whose posterior mean is normal (Raiffa & Schlaifer 1961)."""
    return float(sd * norm.pdf(mean / sd) + mean * norm.cdf(mean / sd) - max(mean, 0.0))


@pytest.fixture(scope="module")
def scores() -> Array:
    return np.random.default_rng(3).standard_normal((REPLICATES, STATES, 3))


def costs(scores: Array, mean: float, slopes: tuple[float, ...]) -> Array:
    """Keeping costs 0, acting less than that by a benefit that is linear in the scores."""
    return np.stack([np.zeros(scores.shape[:2]), -(mean + scores @ np.array(slopes))])


def test_a_normal_benefit_is_the_closed_form(scores: Array) -> None:
    """Mean -1, sd 2; eight visits of sd 4: 0.2699419, and exactly known 0.3955931 (sheet of check values, computed)."""
    assert normal_worth(-1.0, 1.632993) == pytest.approx(0.2699419, abs=1e-6)
    assert normal_worth(-1.0, 2.0) == pytest.approx(0.3955931, abs=1e-6)
    alone = costs(scores, -1.0, (2.0, 0.0, 0.0))
    told = result(scores[..., 0], np.sqrt(1.0 / 3.0), np.random.default_rng(4))  # 2 of the variance of 6 is left
    for known, right in ((told, 0.2699419), (scores[..., 0], 0.3955931)):
        found = knowing.saved(alone, known[..., np.newaxis])
        assert found.low < right < found.high
        assert found.value == pytest.approx(right, abs=0.03)
    assert knowing.everything(alone).value == pytest.approx(0.3955931, abs=0.03)


def test_surveys_together_are_the_closed_form_and_not_the_sum_of_each(scores: Array) -> None:
    mean, slopes, left = 0.3, (2.0, 1.5, 0.0), (0.5, 0.3, 0.0)
    both = costs(scores, mean, slopes)
    generator = np.random.default_rng(8)
    told = np.stack([result(scores[..., j], left[j], generator) for j in range(3)], axis=-1)
    sds = np.array(slopes) * np.sqrt(1.0 - np.array(left) ** 2)
    right = normal_worth(mean, float(np.hypot(*sds[:2])))
    found = knowing.saved(both, told)
    assert found.low < right < found.high
    each = [knowing.saved(both, told[..., [j]]) for j in range(3)]
    for one, sd in zip(each[:2], sds[:2], strict=True):
        assert one.value == pytest.approx(normal_worth(mean, float(sd)), abs=0.04)
    assert abs(right - normal_worth(mean, float(sds[0])) - normal_worth(mean, float(sds[1]))) > 0.05
    assert found.value > max(one.value for one in each)


def test_noise_is_worth_nothing_and_a_choice_that_is_clear_neither(scores: Array) -> None:
    few = scores[:, :16]
    noise = np.random.default_rng(5).standard_normal((REPLICATES, 16, 12))
    found = knowing.saved(costs(few, 0.05, (2.0, 0.0, 0.0)), noise)
    assert found.value < 0.1
    assert found.low <= 0.0
    assert knowing.everything(costs(few, 0.05, (2.0, 0.0, 0.0))).value > 0.5
    clear = knowing.saved(costs(few, 50.0, (2.0, 0.0, 0.0)), few)
    assert (clear.value, clear.low, clear.high) == (0.0, 0.0, 0.0)


def test_sets_grow_by_the_next_best() -> None:
    assert knowing.in_growing_sets(["a", "b", "c"], {"a": -5.0, "b": 9.0, "c": 1.0}) == (
        *(("b",), ("c",), ("a",)),
        *(("b", "c"), ("b", "c", "a")),
    )


def test_what_cannot_be_weighed_is_refused(scores: Array) -> None:
    good = costs(scores, 1.0, (1.0, 0.0, 0.0))
    for bad in (good[:1], good[:, :2], np.where(good > 1.0, np.nan, good)):
        with pytest.raises(DomainError, match="two arrangements or more"):
            knowing.saved(bad, scores[: bad.shape[1]])
    with pytest.raises(DomainError, match="expected results"):
        knowing.saved(good, scores[:, :5])
