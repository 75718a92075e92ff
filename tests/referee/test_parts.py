"""The referee itself beside closed forms: rare events, floods of a year, records, and the judging."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import special, stats

from referee import figures, rare, records
from referee.bare_sites import pond
from referee.directed_years import all_shut, rare_in_a_year, tide_in_each_flood
from referee.figures import Figure
from referee.judging import judged
from referee.results_adapter import Said
from referee.site_adapter import SiteFunction
from referee.years import Years


def test_a_rare_event_of_a_plane() -> None:
    # P(x + y > 5 sqrt 2) of two standard normal numbers
    found = rare.sampled(lambda x, _rng: x.sum(axis=1) - 5.0 * np.sqrt(2.0), 2, 50_000, 1)
    expected = float(special.ndtr(-5.0))
    assert abs(found.probability.value - expected) < 4.0 * found.probability.above < 0.1 * expected
    assert found.effective > rare.LEAST_EFFECTIVE


def test_a_rare_year_of_the_pond(tmp_path: Path) -> None:
    directed = rare_in_a_year()
    site = SiteFunction(directed.case.written(tmp_path))
    expected = directed.truth(directed.case, site)["in a year"].value
    found = rare.in_a_year(directed.case.reading, site, 20_000, 1).probability
    assert abs(found.value - expected) < 4.0 * found.above < 0.2 * expected
    years = Years(directed.case.reading, site, states=4000, points=1, seed=1).probability()
    assert abs(years.value - expected) < 4.0 * years.above


def test_two_loops_and_plain_counting_agree(tmp_path: Path) -> None:
    flow = (
        "design_annual_probability = 0.01\nannual = { gumbel = { location = 3.0, scale = 0.6 }, equivalent_years = 40 }"
    )
    pair = '\n[[dependence]]\nbetween = ["flow.annual", "tailwater.rating_shift_m"]\nrank_correlation = 0.5\n'
    shift = '{ normal = { mean = 0.0, sd = 0.1 }, kind = "each flood" }'
    case = pond("two loops", flow, "{ normal = { mean = 10.5, sd = 0.05 } }", shift, pair)
    site = SiteFunction(case.written(tmp_path))
    years = Years(case.reading, site, states=400, points=12, seed=1)
    loops, plain = years.probability(), years.plain(60_000)
    assert abs(loops.value - plain.value) < 4.0 * np.hypot(loops.above, plain.above)


def test_band_of_a_tide_that_is_not_known(tmp_path: Path) -> None:
    # the tide alone decides, and is the same in all floods: p is 0 or 1, and 1 in 0.25 % of the states
    directed = tide_in_each_flood("knowledge")
    site = SiteFunction(directed.case.written(tmp_path))
    years = Years(directed.case.reading, site, states=2000, points=1, seed=1)
    assert set(np.round(np.unique(years.chance), 9)) <= {0.0, 1.0}
    assert years.band(0.95).value == 0.0


def test_records_all_shut_are_conjugate() -> None:
    # Dirichlet(1, 3.75, 0.25) and 19 shut: P(shut) ~ Beta(19.25, 4.75)
    start = records.start("screen, medium debris, routine raking")
    found = records.posterior(
        records.looks(all_shut(19).case.files["visits.csv"], "lane"), start, np.random.default_rng(1), 50_000
    )
    assert float(np.mean(found["at_one"])) == pytest.approx(19.25 / 24.0, abs=0.002)
    assert float(np.quantile(found["at_one"], 0.05)) == pytest.approx(
        float(stats.beta(19.25, 4.75).ppf(0.05)), abs=0.004
    )


def test_a_quantile_and_its_error() -> None:
    values = np.random.default_rng(1).standard_normal(40_000)
    found = figures.quantile(values, 0.9)
    error = np.sqrt(0.09 / 40_000) / stats.norm.pdf(stats.norm.ppf(0.9))
    assert found.above == pytest.approx(error, rel=0.15)
    assert abs(found.value - stats.norm.ppf(0.9)) < 4.0 * error


@pytest.mark.parametrize(
    ("said", "truth", "agrees"),
    [
        (Said(0.30, 0.28, 0.32, 16), Figure(0.31, 0.005, 0.005), True),
        (Said(0.30, 0.28, 0.32, 16), Figure(0.40, 0.005, 0.005), False),
        (Said(0.30, 0.30, 0.30, 16), Figure(0.31, 0.0, 0.0), False),
        (Said(0.0, 0.0, 0.0, 16), figures.none(), False),
        (Said(np.nan, np.nan, np.nan, 16), figures.none(), True),
        (Said(np.nan, np.nan, np.nan, 16), Figure(0.31, 0.005, 0.005), False),
        (Said(np.inf, np.inf, np.inf, 16), Figure(np.inf, 0.0, 0.0), True),
        (Said(np.inf, np.inf, np.inf, 16), Figure(32.0, 0.1, 0.1), False),
        (Said(np.inf, 32.0, np.inf, 16), Figure(32.0, 0.1, np.inf), True),
    ],
)  # fmt: skip
def test_judging(said: Said, truth: Figure, agrees: bool) -> None:
    assert judged("study", "overtopping", said, truth).agrees is agrees
