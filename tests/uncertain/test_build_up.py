"""Blockage from build-up and raking: closed forms against simulation, their limits, and how raking moves them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr, ndtri

from overbank.uncertain.build_up import BuildUp
from overbank.uncertain.families import family
from overbank.uncertain.truncation import moments

FLOOD = {"flood_rate_per_hour": 0.06, "flood_hours": 6.0, "attended": 0.4, "unattended_hours": 2.0, "at_one": 0.05}
EVEN = {"rate_per_day": 0.02, "ceiling": 0.8, "raked_every_days": 28.0}
RANDOM = {"rate_per_day": 0.02, "ceiling": 0.8, "raked_on_average_every_days": 28.0}
CASES = {
    "even": EVEN,
    "random": RANDOM,
    "even with a flood": EVEN | FLOOD,
    "random with a flood": RANDOM | FLOOD,
    "up to shut": {"rate_per_day": 0.05, "ceiling": 1.0, "raked_every_days": 60.0, "at_one": 0.02},
    "attended before the flood": RANDOM | {"attended": 0.7},
}
SAMPLES = 400_000


def simulated(case: dict[str, float], seed: int) -> np.ndarray:
    """Blocked shares at the peaks of many floods, step by step: rakings of one long year after another, then the flood.

    An independent route: it knows neither y nor the distribution of the age, only the growth between two moments.
    """
    rng = np.random.default_rng(seed)
    known = dict.fromkeys(("flood_rate_per_hour", "flood_hours", "attended", "unattended_hours", "at_one"), 0.0) | case
    every = case.get("raked_every_days", case.get("raked_on_average_every_days", 0.0))
    count = SAMPLES // 4
    gaps = rng.exponential(every, count) if "raked_on_average_every_days" in case else np.full(count, every)
    rakings = np.cumsum(gaps)
    moments_of_floods = rng.uniform(rakings[0], rakings[-1], SAMPLES)
    last = rakings[np.searchsorted(rakings, moments_of_floods, side="right") - 1]
    blocked = grown(np.zeros(SAMPLES), known["rate_per_day"], known["ceiling"], moments_of_floods - last)
    rate, ceiling = known["flood_rate_per_hour"], known["ceiling"]
    free_hours = known["flood_hours"] - known["unattended_hours"]
    blocked = grown(blocked, rate, ceiling, free_hours)
    blocked = np.where(rng.random(SAMPLES) < known["attended"], 0.0, blocked)
    blocked = grown(blocked, rate, ceiling, known["unattended_hours"])
    return np.where(rng.random(SAMPLES) < known["at_one"], 1.0, blocked)


def grown(blocked: np.ndarray, rate: float, ceiling: float, time: np.ndarray | float) -> np.ndarray:
    """What the growth dB/dt = r (1 - B/C) makes of a blocked share."""
    return ceiling - (ceiling - blocked) * np.exp(-rate * np.asarray(time) / ceiling)


@pytest.mark.parametrize("name", CASES)
def test_closed_forms_against_simulation(name: str) -> None:
    """Mean and probabilities within 4 standard errors; rakings at even times give the ages less scatter than that."""
    ours, found = family("build_up", CASES[name]), simulated(CASES[name], 5)
    error = ours.sd / math.sqrt(SAMPLES)
    assert np.mean(found) == pytest.approx(ours.mean, abs=4.0 * error)
    assert np.std(found) == pytest.approx(
        ours.sd, abs=4.0 * np.std((found - ours.mean) ** 2) / (2.0 * ours.sd * math.sqrt(SAMPLES))
    )
    tiny = 1e-12
    for x in (0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.75, 0.9, 1.0):
        p, share = float(ours.cdf(x + tiny)), np.mean(found <= x + tiny)
        assert share == pytest.approx(p, abs=4.0 * math.sqrt(max(p * (1.0 - p), 1e-9) / SAMPLES)), x
    for value, chance in ours.atoms:
        share = np.mean(np.abs(found - value) < 1e-9)
        assert share == pytest.approx(chance, abs=4.0 * math.sqrt(chance * (1.0 - chance) / SAMPLES))


@pytest.mark.parametrize("name", CASES)
def test_moments_are_those_of_the_values(name: str) -> None:
    ours = family("build_up", CASES[name])
    assert moments(ours) == pytest.approx((ours.mean, ours.sd), rel=1e-4)


def test_closed_forms_computed_independently() -> None:
    """Raked at random, twice as fast as it builds up: mean 1/3, P(B > 0.67) = 0.33^2. Raked evenly at T = tau: mean
    0.367879 = 1 - (1 - 1/e), P(B <= 0.4) = -ln 0.6 = 0.510826; both also by 2 million simulated moments."""
    random = family("build_up", {"rate_per_day": 0.5, "ceiling": 1.0, "raked_on_average_every_days": 1.0})
    assert random.mean == pytest.approx(1.0 / 3.0)
    assert 1.0 - float(random.cdf(0.67)) == pytest.approx(0.1089, rel=1e-9)
    even = family("build_up", {"rate_per_day": 0.1, "ceiling": 1.0, "raked_every_days": 10.0})
    assert even.mean == pytest.approx(0.367879, abs=1e-6)
    assert float(even.cdf(0.4)) == pytest.approx(0.510826, abs=1e-6)


def test_random_raking_without_a_flood_is_a_beta() -> None:
    ours = family("build_up", {"rate_per_day": 0.02, "ceiling": 1.0, "raked_on_average_every_days": 20.0})
    theirs = stats.beta(1.0, 2.5)
    z = np.linspace(-8.0, 8.0, 161)
    lower, upper = z[z <= 0], z[z > 0]
    np.testing.assert_allclose(ours.value(lower), theirs.ppf(ndtr(lower)), rtol=1e-9)
    np.testing.assert_allclose(1.0 - ours.value(upper), stats.beta(2.5, 1.0).ppf(ndtr(-upper)), rtol=1e-6, atol=1e-15)
    assert (ours.mean, ours.sd) == pytest.approx((theirs.mean(), theirs.std()))


@pytest.mark.parametrize("key", ["raked_every_days", "raked_on_average_every_days"])
def test_rarer_raking_never_blocks_less(key: str) -> None:
    z = np.linspace(-6.0, 6.0, 241)
    before = np.zeros(z.size)
    for days in (0.5, 1.0, 3.0, 7.0, 14.0, 28.0, 90.0, 365.0):
        given = {"rate_per_day": 0.02, "ceiling": 0.8, key: days, **FLOOD}
        now = family("build_up", given).value(z)
        assert np.all(now >= before - 1e-12)
        before = now
    assert before[z > ndtri(0.95 * 0.4)].min() > 0.3


def test_limits() -> None:
    always = family("build_up", EVEN | {"raked_every_days": 1e-6})
    assert always.mean == pytest.approx(0.0, abs=1e-7)
    never = family("build_up", EVEN | {"raked_every_days": 1e7})
    assert never.mean == pytest.approx(0.8, rel=1e-4)
    # a flood alone, from clean bars: C (1 - e^(-r t / C)), r 0.06, t 6, C 0.8: 0.8 (1 - e^-0.45) = 0.28990
    flood = family("build_up", EVEN | {"raked_every_days": 1e-6, "flood_rate_per_hour": 0.06, "flood_hours": 6.0})
    assert flood.mean == pytest.approx(0.8 * (1.0 - math.exp(-0.45)), rel=1e-6)
    # always attended until 2 hours before the peak: 0.8 (1 - e^-0.15) whatever the raking
    crew = family("build_up", EVEN | FLOOD | {"attended": 1.0, "at_one": 0.0})
    assert crew.support == pytest.approx((0.8 * (1.0 - math.exp(-0.15)),) * 2)
    assert family("build_up", EVEN | FLOOD | {"at_one": 1.0}).support == (1.0, 1.0)


def test_supports_and_atoms() -> None:
    ours = family("build_up", EVEN | FLOOD)
    left, start = 0.8 * (1.0 - math.exp(-0.15)), 0.8 * (1.0 - math.exp(-0.45))
    assert ours.support == pytest.approx((left, 1.0))
    assert [chance for _, chance in ours.atoms] == pytest.approx([0.95 * 0.4, 0.05])
    assert float(ours.cdf(left)) == pytest.approx(0.38)
    assert float(ndtr(ours.score_below(left))) == 0.0
    assert float(ours.cdf(start - 1e-6)) == pytest.approx(0.38)
    assert float(ours.quantile(0.3801)) == pytest.approx(start, abs=1e-4)
    assert float(ndtr(ours.score_below(1.0))) == pytest.approx(0.95)
    assert family("build_up", EVEN).support == pytest.approx((0.0, 0.8 * (1.0 - math.exp(-0.7))))
    assert family("build_up", RANDOM).support == (0.0, 0.8)
    assert np.isnan(ours.value(math.nan))
    assert np.isnan(ours.score(math.nan))


def test_words() -> None:
    assert family("build_up", EVEN).words == "builds up by 2 % a day towards 80 %, raked every 28 days"
    words = family("build_up", RANDOM | FLOOD).words
    assert "raked at random, on average every 28 days; 6 % an hour over 6 hours of flood, to its peak only; " in words
    assert words.endswith("with probability 0.4 up to 2 hours before its peak; shut with probability 0.05")


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"rate_per_day": 0.0}, "rate_per_day above 0"),
        ({"ceiling": 1.2}, "ceiling above 0 and not above 1"),
        ({"raked_every_days": -7.0}, "raked_every_days above 0"),
        ({"at_one": 1.5}, "at_one between 0 and 1"),
        ({"attended": -0.1}, "attended between 0 and 1"),
        ({"flood_hours": -1.0}, "flood_hours of 0 or more"),
        ({"flood_hours": 3.0, "unattended_hours": 4.0}, "unattended_hours not above flood_hours, 3"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, float], expected: str) -> None:
    with pytest.raises(ValueError, match=f"expected .*{expected}"):
        family("build_up", EVEN | changes)


def test_equal_rakings_make_equal_distributions() -> None:
    assert BuildUp(0.02, 0.8, 28.0) == family("build_up", EVEN)
    assert BuildUp.raked_at_random(0.02, 0.8, 28.0) == family("build_up", RANDOM) != family("build_up", EVEN)
