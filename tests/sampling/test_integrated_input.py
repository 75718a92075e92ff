"""The input integrated out: chosen by a pilot, and the answers do not depend on the choice."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from overbank.analysis import overtopping
from overbank.analysis.intervals import Array
from overbank.run import run
from overbank.sampling.conditional import Conditional
from overbank.sampling.integrated import candidates, debris_at, integrated_input
from overbank.sampling.integrated_input import IntegratedInput
from overbank.sampling.ladder import ladder_over
from overbank.sampling.run import Run
from overbank.sampling.samples import Sampling
from overbank.study.load import read_study
from small import BLOCKAGE, DEPENDENCE, SCREEN, study


@pytest.fixture(scope="module")
def sampling(tmp_path_factory: pytest.TempPathFactory) -> Sampling:
    return Run(study(tmp_path_factory.mktemp("choosing"))).sampling


GRID = np.linspace(31.0, 33.0, 20)
"""Levels of an exceedance curve that nobody here looks at [m]."""


def test_candidates_are_what_only_raises_the_water(sampling: Sampling) -> None:
    assert candidates(sampling.problem, "lane") == (
        "lane.screen.blockage",
        "flow.design_m3_s",
        "tailwater.level_m",
    )
    assert debris_at(sampling.problem, "lane") == "lane.screen.blockage"


@pytest.fixture(scope="module")
def conditional(sampling: Sampling) -> dict[str, Array]:
    """The probability of every sample with each candidate integrated out."""
    found = {}
    for name in candidates(sampling.problem, "lane"):
        ladder = ladder_over(sampling, IntegratedInput(sampling.inputs, name), GRID)
        found[name] = ladder.over(ladder.critical[sampling.at], sampling.samples.depth_over_bank).probabilities
    return found


def test_the_choice_leaves_the_least_variance(sampling: Sampling, conditional: dict[str, Array]) -> None:
    """Of the whole samples, not of the pilot: the variance of the conditional probability with each candidate."""
    choice = integrated_input(sampling)
    assert choice is not None
    left = {each.name: float(np.var(conditional[each.name])) for each in choice.candidates}
    assert choice.name == min(left, key=left.__getitem__)


def test_every_candidate_gives_the_same_probability(conditional: dict[str, Array]) -> None:
    found = [overtopping.threshold(probabilities) for probabilities in conditional.values()]
    for each in found[1:]:
        assert abs(each.value - found[0].value) < (each.high - each.low) + (found[0].high - found[0].low)


def test_short_ladders_give_the_probabilities_of_the_long_one(sampling: Sampling) -> None:
    long = ladder_over(sampling, IntegratedInput(sampling.inputs, "lane.screen.blockage"), GRID)
    expected = long.over(long.critical[sampling.at], sampling.samples.depth_over_bank).probabilities.ravel()[:500]
    conditional = Conditional(sampling.model, "lane.screen.blockage")
    z = sampling.z.reshape(-1, sampling.inputs.dimension)[:500]
    before = sampling.model.runs.total
    np.testing.assert_allclose(conditional.probabilities(z), expected, atol=3e-4)
    assert sampling.model.runs.total - before > 500 * len(conditional.nodes)
    np.testing.assert_array_equal(conditional.without(np.delete(z, long.column, axis=1)), conditional.probabilities(z))


def test_the_lowest_depths_are_those_without_debris(sampling: Sampling) -> None:
    found = ladder_over(sampling, IntegratedInput(sampling.inputs, "lane.screen.blockage"), GRID)
    clean = sampling.levels_with(found.column, np.zeros(len(sampling.rows)), sampling.places)
    expected = clean.reshape(sampling.levels.shape) - sampling.banks
    np.testing.assert_allclose(found.lowest, expected, rtol=0.0, atol=1e-12)
    assert np.all(found.lowest[sampling.at] <= sampling.samples.depth_over_bank)


def test_every_sample_is_counted_once_in_the_exceedance(sampling: Sampling) -> None:
    """Up to each cut as many as there are."""
    counted = ladder_over(sampling, IntegratedInput(sampling.inputs, "lane.screen.blockage"), GRID).counted[1.0]
    replicates, each = sampling.shape
    assert each in counted
    for cut in counted:
        assert sum(part.given for end, part in counted.items() if end <= cut) == replicates * cut


def test_samples_without_a_critical_value_are_counted_in_every_replicate(sampling: Sampling) -> None:
    found = ladder_over(sampling, IntegratedInput(sampling.inputs, "lane.screen.blockage"), GRID)
    critical, depths = found.critical[sampling.at].copy(), sampling.samples.depth_over_bank
    before = found.over(critical, depths).replaced
    critical[0, 0] = critical[-1, :2] = np.nan
    mended = found.over(critical, depths)
    assert mended.replaced == before + 3
    np.testing.assert_array_equal(mended.probabilities[-1, :2], depths[-1, :2] > 0.0)


def test_depths_are_those_at_the_place_that_is_asked_about(tmp_path: Path) -> None:
    found = Run(study(tmp_path, ("assurance = 0.9", 'assurance = 0.9\nat = "garden"'))).sampling
    garden = found.samples.site.element("garden")
    assert found.places == ("lane", "garden")
    expected = (garden.level - garden.bank_level).reshape(found.shape)
    np.testing.assert_allclose(found.samples.depth_over_bank, expected, rtol=0.0, atol=1e-12)


def test_blockage_is_answered_even_where_the_flow_is_integrated_out(tmp_path: Path) -> None:
    """A screen that hardly ever holds much: the flow then rules, the blockage answers stay."""
    little = "blockage = { beta = { a = 1.5, b = 30.0 } }"
    changed = study(tmp_path, (BLOCKAGE, little), ("mean = 32.2", "mean = 31.9"), (DEPENDENCE, ""))
    found = run(changed, only=("overtopping", "blockage"))
    assert found.overtopping.integrated == "flow.design_m3_s"
    assert found.blockage is not None
    assert found.blockage.name == "lane.screen.blockage"


def test_what_else_is_monotone_serves_where_debris_and_water_are_certain(tmp_path: Path) -> None:
    """With a number that the water rises with, or falls with, the same probability as by the plain count."""
    bare = Run(
        study(
            tmp_path,
            (DEPENDENCE, ""),
            (SCREEN, ""),
            ('{ lognormal = { median = 6.0, cov = 0.2 }, basis = "invented", evidence = "judgement" }', "9.5"),
            ('{ normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }', "31.0"),
        )
    )
    choice, sampling = integrated_input(bare.sampling), bare.sampling
    assert choice is not None
    assert choice.best is not None
    counted = overtopping.plain(sampling.samples.depth_over_bank, sampling.settings.design)
    for each in choice.candidates:
        found = ladder_over(sampling, IntegratedInput(sampling.inputs, each.name, each.sign), GRID)
        smooth = overtopping.threshold(
            found.over(found.critical[sampling.at], sampling.samples.depth_over_bank).probabilities
        )
        assert abs(smooth.value - counted.value) <= 4.0 * np.sqrt(counted.value / counted.samples)


BANKS = "{ normal = { mean = 31.72, sd = 0.04 } }"


def test_a_bank_alone_is_integrated_out_by_its_negative(tmp_path: Path) -> None:
    """Only the bank is uncertain: P = Phi((level - mean)/sd), a closed form."""
    text = (
        'title = "A pond (invented)"\n[run]\nsamples = 64\nreplicates = 4\n'
        "[decision]\ntarget_probability = 0.1\nassurance = 0.9\n"
        "[flow]\ndesign_m3_s = 5.0\n[tailwater]\nlevel_m = 31.65\n"
        '[[element]]\nkind = "channel"\nid = "pond"\nsection = { shape = "rectangle", width_m = 400.0 }\n'
        "length_m = 0.1\nbed_level_m = 20.0\nbed_slope = 0.0001\nmanning_n = 0.02\n"
        f"bank_level_m = {BANKS}\n"
    )
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    found = Run(read_study(tmp_path))
    assert found.ladder is not None
    assert (found.ladder.name, found.ladder.integrated.sign) == ("pond.bank_level_m", -1)
    level = found.model.level_at_medians
    np.testing.assert_allclose(found.over.probabilities, norm.cdf((level - 31.72) / 0.04), rtol=1e-4)


def test_a_blockage_is_set_to_anything_whatever_is_assumed_of_it(tmp_path: Path) -> None:
    """The ladder spans 0 to 1, so that its critical values are those of a root solve beyond the support as well."""
    some = "blockage = { uniform = { low = 0.4, high = 0.7 } }"
    sampling = Run(study(tmp_path, (BLOCKAGE, some), (DEPENDENCE, ""))).sampling
    found = ladder_over(sampling, IntegratedInput(sampling.inputs, "lane.screen.blockage"), GRID)
    critical = found.critical[sampling.at].ravel()
    beyond = np.flatnonzero(np.isfinite(critical) & ((critical < 0.4) | (critical > 0.7)))[:20]
    assert beyond.size
    for sample in beyond:
        row = sampling.rows[[sample]].copy()

        def depth(share: float, row: np.ndarray = row) -> float:
            row[:, found.column] = share
            return float(sampling.model.levels(row)[0] - sampling.model.banks(row)[0])

        assert brentq(depth, 0.0, 1.0) == pytest.approx(critical[sample], abs=1e-4)
