"""The whole way from a seed to physical values, on two hydraulic problems whose answers are known."""

import math

import numpy as np
import pytest
from scipy.special import ndtri

from overbank.uncertain.dependence import Copula
from overbank.uncertain.distributions import Lognormal, Normal, Triangular, Uniform
from overbank.uncertain.extremes import Gumbel
from overbank.uncertain.families import family
from overbank.uncertain.inputs import Input, Inputs, Survey
from overbank.uncertain.truncation import Truncated

DESIGNS = ["sobol", "latin_hypercube", "monte_carlo"]


def made(distributions, pairs=None):
    names = tuple(distributions)
    items = tuple(Input(name, distribution) for name, distribution in distributions.items())
    return Inputs(items, Copula.from_rank_correlations(names, pairs or {}))


def within_four_errors(by_replicate, expected):
    by_replicate = np.asarray(by_replicate)
    error = by_replicate.std(axis=0, ddof=1) / math.sqrt(len(by_replicate))
    assert np.all(np.abs(by_replicate.mean(axis=0) - expected) <= 4.0 * error)


# Wide channel by Manning's formula, h = (Q n / (B sqrt(S)))^(3/5), B 8 m, S 0.002. Q is lognormal with median
# 12 m3/s and sd of ln Q 0.35; n is lognormal with median 0.035 and sd of ln n 0.20. ln h is then normal, and
# P(h > x) a closed form; the numbers were computed independently.
LEVELS = np.array([1.2, 1.5, 2.0])
WIDE_CHANNEL = [
    (0.0, [0.36092109, 0.10052199, 0.0067934804]),
    (0.5, [0.38299648, 0.14255348, 0.019542448]),  # 0.5 between the logarithms
]


def wide_channel(rho):
    rank = 6.0 / math.pi * math.asin(rho / 2.0)
    return made(
        {
            "flow": Lognormal(12.0, math.sqrt(math.expm1(0.35**2))),
            "roughness": Lognormal(0.035, math.sqrt(math.expm1(0.20**2))),
        },
        {("flow", "roughness"): rank} if rho else {},
    )


@pytest.mark.parametrize(("rho", "expected"), WIDE_CHANNEL)
@pytest.mark.parametrize("design", DESIGNS)
def test_exceedance_in_a_wide_channel_is_the_closed_form(design, rho, expected):
    _, values = wide_channel(rho).sample(design, samples=16 * 8192, seed=4, replicates=16)
    depth = (values[..., 0] * values[..., 1] / (8.0 * math.sqrt(0.002))) ** 0.6
    within_four_errors((depth[..., None] > LEVELS).mean(axis=1), expected)


def test_median_depth_in_a_wide_channel():
    flow, roughness = wide_channel(0.0).medians()
    assert (flow * roughness / (8.0 * math.sqrt(0.002))) ** 0.6 == pytest.approx(1.100998135, rel=1e-9)


def test_flood_depth_of_the_dyke_problem():
    # Inputs of Iooss and Lemaitre (2015), table 4 as quoted on two public pages (read in the source):
    # H = [Q / (B Ks sqrt((Zm - Zv)/L))]^0.6. Mean, variance and exceedances computed independently with
    # 10 scrambles of 2^19 points.
    inputs = made(
        {
            "flow": Truncated(Gumbel(1013.0, 558.0), 500.0, 3000.0),
            "strickler": Truncated(Normal(30.0, 8.0), low=15.0),
            "downstream": Triangular(49.0, 50.0, 51.0),
            "upstream": Triangular(54.0, 55.0, 56.0),
            "dyke": Uniform(7.0, 9.0),
            "length": Triangular(4990.0, 5000.0, 5010.0),
            "width": Triangular(295.0, 300.0, 305.0),
        }
    )
    _, values = inputs.sample("sobol", samples=16 * 16384, seed=9, replicates=16)
    flow, strickler, downstream, upstream, _, length, width = np.moveaxis(values, -1, 0)
    depth = (flow / (width * strickler * np.sqrt((upstream - downstream) / length))) ** 0.6
    within_four_errors(depth.mean(axis=1), 2.5555062)
    within_four_errors(((depth - 2.5555062) ** 2).mean(axis=1), 0.5808777)
    within_four_errors((depth[..., None] > [3.0, 4.0, 5.0]).mean(axis=1), [0.25693, 0.046367, 0.0047617])


def test_each_column_is_its_own_distribution_at_its_correlated_score():
    inputs = made(
        {
            "flow": family("lognormal", {"median": 7.5, "cov": 0.18}),
            "blockage": family("inflated_beta", {"at_zero": 0.2, "a": 1.5, "b": 2.5, "at_one": 0.05}),
            "pattern": family("discrete", {"values": [0, 1, 2], "weights": [0.5, 0.3, 0.2]}),
        },
        {("flow", "blockage"): 0.4},
    )
    z, values = inputs.sample("sobol", samples=4 * 1024, seed=1, replicates=4)
    assert z.shape == values.shape == (4, 1024, 3)
    for j, item in enumerate(inputs.items):
        np.testing.assert_array_equal(values[..., j], item.distribution.value(z[..., j]))
    np.testing.assert_array_equal(inputs.values(z[0]), values[0])
    # The share of an atom follows from its weight: n strata in each Sobol' column, exactly.
    assert np.sum(values[..., 2] == 0.0) == 4 * 512
    assert np.mean(values[..., 1] == 0.0) == pytest.approx(0.2, abs=0.01)
    assert np.all(values[..., 1][z[..., 1] > -ndtri(0.05)] == 1.0)


def test_names_index_and_medians():
    inputs = wide_channel(0.0)
    assert inputs.names == ("flow", "roughness")
    assert inputs.dimension == 2
    assert inputs.index("roughness") == 1
    np.testing.assert_allclose(inputs.medians(), [12.0, 0.035])
    with pytest.raises(ValueError, match="expected an uncertain number, one of flow, roughness, got 'level'"):
        inputs.index("level")


def test_no_uncertain_number_at_all_is_a_problem_too():
    inputs = made({})
    z, values = inputs.sample("sobol", samples=64, seed=1, replicates=4)
    assert z.shape == values.shape == (4, 16, 0)
    assert inputs.medians().shape == (0,)


def test_the_same_seed_gives_the_same_values():
    first = wide_channel(0.5).sample("sobol", 256, seed=0, replicates=4)
    again = wide_channel(0.5).sample("sobol", 256, seed=0, replicates=4)
    np.testing.assert_array_equal(first, again)


def test_copula_and_inputs_must_name_the_same_numbers():
    copula = Copula.from_rank_correlations(("b", "a"), {})
    with pytest.raises(ValueError, match="expected the copula's names in the order of the inputs, got inputs a, b"):
        Inputs((Input("a", Normal(0.0, 1.0)), Input("b", Normal(0.0, 1.0))), copula)


@pytest.mark.parametrize(("sd_after", "cost", "name"), [(-0.1, 600.0, "sd_after"), (0.02, math.nan, "cost")])
def test_a_survey_that_cannot_be_is_refused(sd_after, cost, name):
    with pytest.raises(ValueError, match=f"expected {name} of 0 or more, got"):
        Survey(sd_after, cost)
    assert Survey(0.0, 0.0).cost == 0.0
