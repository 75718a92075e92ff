"""Building a distribution from a name and parameters, and laws that every family must obey."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr, ndtri

from overbank.uncertain.distributions import Lognormal
from overbank.uncertain.families import FAMILIES, family
from overbank.uncertain.tabulated import Discrete
from overbank.uncertain.truncation import Truncated

CATALOGUE = {
    "normal": {"mean": 1.0, "sd": 0.05},
    "lognormal": {"median": 7.5, "cov": 0.18},
    "uniform": {"low": 1.4, "high": 1.7},
    "triangular": {"low": 0.012, "mode": 0.014, "high": 0.018},
    "beta": {"a": 1.2, "b": 6.0, "low": 0.1, "high": 0.8},
    "pert": {"low": 0.012, "mode": 0.014, "high": 0.018},
    "inflated_beta": {"at_zero": 0.2, "a": 1.5, "b": 2.5, "at_one": 0.05},
    "build_up": {"rate_per_day": 0.02, "ceiling": 0.8, "raked_every_days": 14.0, "attended": 0.3, "at_one": 0.05},
    "discrete": {"values": [2.0, 0.0, 1.0], "weights": [0.5, 0.2, 0.3]},
    "elicited": {"people": [[0.1, 0.3, 0.7], [0.2, 0.4, 0.6]], "low": 0.0, "high": 1.0, "weights": [0.6, 0.4]},
    "empirical": {"values": [0.31, 0.05, 0.12, 0.31, 0.77, 0.2]},
    "gumbel": {"location": 8.5, "scale": 0.4},
    "gev": {"location": 3.1, "scale": 0.9, "shape": -0.05},
    "generalised_logistic": {"location": 3.1, "scale": 0.9, "shape": -0.2},
    "log_pearson3": {"mean_log10": 0.9, "sd_log10": 0.2, "skew_log10": -0.3},
}
TRUNCATED = [
    ("normal", {"low": 0.95}),
    ("lognormal", {"high": 9.0}),
    ("gev", {"low": 1.0, "high": 8.0}),
    ("inflated_beta", {"high": 0.9}),
    ("discrete", {"low": 0.5}),
    ("empirical", {"low": 0.1, "high": 0.5}),
]
ALL = {name: family(name, parameters) for name, parameters in CATALOGUE.items()}
ALL |= {f"{name} {bounds}": family(name, CATALOGUE[name] | bounds) for name, bounds in TRUNCATED}
every_family = pytest.mark.parametrize("ours", ALL.values(), ids=ALL.keys())

positive = st.floats(0.05, 20.0)
shape = st.floats(-0.6, 0.6)
share = st.floats(0.0, 0.5)
PARAMETERS = {
    "normal": st.fixed_dictionaries({"mean": st.floats(-1e3, 1e3), "sd": positive}),
    "lognormal": st.fixed_dictionaries({"median": positive, "cov": st.floats(0.001, 3.0)}),
    "uniform": st.fixed_dictionaries({"low": st.floats(-9.0, 0.0), "high": st.floats(0.001, 9.0)}),
    "triangular": st.fixed_dictionaries(
        {"low": st.floats(-9.0, -0.001), "mode": st.just(0.0), "high": st.floats(0.0, 9.0)}
    ),
    "beta": st.fixed_dictionaries({"a": positive, "b": positive}),
    "pert": st.fixed_dictionaries({"low": st.floats(-9, -0.1), "mode": st.just(0.0), "high": st.floats(0, 9)}),
    "inflated_beta": st.fixed_dictionaries({"at_zero": share, "a": positive, "b": positive, "at_one": share}),
    "build_up": st.fixed_dictionaries(
        {"rate_per_day": st.floats(0.001, 0.5), "ceiling": st.floats(0.1, 1.0), "at_one": share, "attended": share}
        | {"flood_rate_per_hour": share, "flood_hours": st.floats(1.0, 9.0), "unattended_hours": st.floats(0.0, 1.0)},
    ).flatmap(
        lambda known: st.sampled_from(["raked_every_days", "raked_on_average_every_days"]).map(
            lambda key: known | {key: 20.0}
        )
    ),
    "gumbel": st.fixed_dictionaries({"location": st.floats(-9, 9), "scale": positive}),
    "gev": st.fixed_dictionaries({"location": st.floats(-9, 9), "scale": positive, "shape": shape}),
    "generalised_logistic": st.fixed_dictionaries({"location": st.floats(-9, 9), "scale": positive, "shape": shape}),
    "log_pearson3": st.fixed_dictionaries(
        {
            "mean_log10": st.floats(-2, 2),
            "sd_log10": st.floats(0.01, 0.5),
            "skew_log10": st.floats(0.01, 3.0) | st.floats(-3.0, -0.01) | st.just(0.0),
        }
    ),
}


def test_the_catalogue_holds_every_family():
    assert set(CATALOGUE) == set(FAMILIES)


def never_falls(ours, scores, slope=0.0):
    """Up to the last few bits of the values, and of scores that pass through a curve of this slope."""
    values = ours.value(np.sort(scores))
    slack = 8.0 * np.finfo(float).eps * (np.max(np.abs(values)) + slope)
    return np.all(np.diff(values) >= -slack)


@every_family
def test_value_never_falls_as_the_score_rises(ours):
    assert never_falls(ours, np.linspace(-8.0, 8.0, 20_001))


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_value_never_falls_whatever_the_parameters(data):
    name = data.draw(st.sampled_from(sorted(PARAMETERS)))
    ours = family(name, data.draw(PARAMETERS[name]))
    scores = data.draw(st.lists(st.floats(-8.0, 8.0), min_size=2, max_size=30))
    assert never_falls(ours, scores)
    low, high = ours.support
    values = ours.value(scores)
    assert np.all((values >= low) & (values <= high))


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_truncation_keeps_any_family_within_its_bounds(data):
    name = data.draw(st.sampled_from(sorted(PARAMETERS)))
    inner = family(name, data.draw(PARAMETERS[name]))
    bounds = sorted(float(inner.value(data.draw(st.floats(-4.0, 4.0)))) for _ in range(2))
    low, high = data.draw(st.sampled_from([(bounds[0], math.inf), (-math.inf, bounds[1]), tuple(bounds)]))
    if not low < high or inner.cdf(high) - ndtr(inner.score_below(low)) < 1e-6:
        return
    ours = Truncated(inner, low, high)
    scores = np.linspace(-8.0, 8.0, 801)
    values = ours.value(scores)
    assert np.all((values >= low) & (values <= high))
    slope = np.max(np.diff(inner.value(np.linspace(-4.0, 4.0, 801)))) / 0.01
    assert never_falls(ours, scores, slope)


@every_family
def test_scores_and_values_undo_each_other(ours):
    """score_below(x) <= z <= score(x) at x = value(z): the definition of a quantile, atoms included."""
    z = np.linspace(-3.0, 3.0, 601)
    x = ours.value(z)
    assert np.all(ours.score_below(x) <= z + 1e-7)
    assert np.all(z <= ours.score(x) + 1e-7)
    inside = np.isfinite(ours.score(x))
    np.testing.assert_allclose(ours.value(ours.score(x[inside])), x[inside], rtol=1e-7)


@every_family
def test_atoms_are_the_jumps_of_the_distribution_function(ours):
    for value, chance in ours.atoms:
        jump = ndtr(ours.score(value)) - ndtr(ours.score_below(value))
        assert float(jump) == pytest.approx(chance, rel=1e-9)
    x = ours.value(np.linspace(-2.9, 2.9, 59))
    free = ~np.isin(np.round(x, 9), np.round([value for value, _ in ours.atoms], 9))
    np.testing.assert_allclose(ours.score(x[free]), ours.score_below(x[free]), atol=1e-9)


@every_family
def test_probability_and_quantile_agree_with_score_and_value(ours):
    p = np.array([0.01, 0.3, 0.5, 0.77, 0.99])
    np.testing.assert_array_equal(ours.quantile(p), ours.value(ndtri(p)))
    np.testing.assert_array_equal(ours.cdf(ours.quantile(p)), ndtr(ours.score(ours.quantile(p))))
    assert ours.median == float(ours.value(0.0))


@every_family
def test_moments_equal_averages_over_even_quantiles(ours):
    """Independent route: the mean of value over equally likely strips, in both halves from their own tail."""
    strips = ndtri((np.arange(500_000) + 0.5) / 1_000_000)
    values = np.concatenate([ours.value(strips), ours.value(-strips)])
    assert ours.mean == pytest.approx(values.mean(), rel=1e-4)
    assert ours.sd == pytest.approx(values.std(), rel=1e-3)


@every_family
def test_support_is_reached_at_infinite_scores_and_left_with_certainty(ours):
    low, high = ours.support
    assert (float(ours.value(-np.inf)), float(ours.value(np.inf))) == (low, high)
    if math.isfinite(low):
        assert float(ours.score_below(low)) == -np.inf
        assert float(ours.score(low - 1.0)) == -np.inf
    if math.isfinite(high):
        assert float(ours.score(high + 1.0)) == np.inf


@every_family
def test_a_missing_number_stays_missing(ours):
    given = [np.nan, 0.5]
    for answer in (ours.value(given), ours.score(given), ours.score_below(given), ours.cdf(given)):
        assert list(np.isnan(answer)) == [True, False]


@every_family
def test_any_shape_is_welcome(ours):
    z = np.linspace(-2.0, 2.0, 24)
    np.testing.assert_array_equal(ours.value(z.reshape(2, 3, 4)), ours.value(z).reshape(2, 3, 4))
    x = ours.value(z)
    np.testing.assert_array_equal(ours.score(x.reshape(4, 6)), ours.score(x).reshape(4, 6))
    assert np.shape(ours.value(0.3)) == ()
    assert np.shape(ours.score(0.3)) == ()
    strided = np.stack([z, z], axis=-1)[:, 0]
    np.testing.assert_array_equal(ours.value(strided), ours.value(z))


@every_family
def test_words_are_one_line(ours):
    assert ours.words
    assert "\n" not in ours.words


def test_lognormal_by_either_pair_of_parameters():
    assert family("lognormal", {"median": 7.5, "cov": 0.18}) == Lognormal(7.5, 0.18)
    assert family("lognormal", {"mean": 8.0, "sd": 2.0}) == Lognormal.from_mean(8.0, 2.0)


def test_low_and_high_truncate_only_where_they_are_not_parameters():
    assert family("normal", {"mean": 1, "sd": 1, "low": 0}).support == (0.0, math.inf)
    assert family("normal", {"mean": 1, "sd": 1, "low": 0, "high": 3}).support == (0.0, 3.0)
    assert family("beta", {"a": 2, "b": 3, "low": -1, "high": 3}).mean == pytest.approx(-1.0 + 4.0 * 0.4)


def test_labels_of_a_discrete_reach_the_report():
    ours = family("discrete", {"values": [0, 1], "weights": [0.5, 0.5], "labels": ["uniform", "bottom up"]})
    assert isinstance(ours, Discrete)
    assert ours.words == "uniform with probability 0.5, bottom up with probability 0.5"


@pytest.mark.parametrize(
    ("name", "parameters", "message"),
    [
        ("lognormall", {}, "got 'lognormall' (did you mean 'lognormal'?)"),
        (
            "normal",
            {"mean": 1.0, "sdd": 1.0},
            "for normal the parameters mean and sd, got 'sdd' (did you mean 'sd'?)",
        ),
        ("normal", {"mean": 1.0}, "expected for normal the parameters mean and sd, got mean"),
        ("lognormal", {"median": 1.0, "sd": 1.0}, "median and cov, or mean and sd, got median and sd"),
        ("gev", {}, "expected for gev the parameters location, scale and shape, got none"),
        ("normal", {"mean": 1.0, "sd": "wide"}, "expected a number for sd, got 'wide'"),
        ("normal", {"mean": 1.0, "sd": True}, "expected a number for sd, got True"),
        (
            "normal",
            {"mean": 1.0, "sd": 1.0, "low": 60.0},
            "expected bounds that keep some probability of the normal",
        ),
    ],
)
def test_what_cannot_be_built_is_refused_in_one_sentence(name, parameters, message):
    with pytest.raises(ValueError, match=r"^expected .*, got ") as refusal:
        family(name, parameters)
    assert message in str(refusal.value)
