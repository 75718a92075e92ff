"""The flood in a study file: annual maxima, the design flow taken from them, and what comes out anew in each flood."""
# ruff: noqa: E501  (tables)

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import genextreme, gumbel_r

from overbank.study.flow import ANNUAL
from overbank.uncertain.floods import FloodOf

from .sound import SOUND, built, edited, faults, line_of, only_fault

FLOW = next(line for line in SOUND.splitlines() if line.startswith("design_m3_s"))
DEPENDENCE = SOUND[SOUND.index("[[dependence]]") :]
GEV = "gev = { location = 3.1, scale = 0.9, shape = -0.05 }"
RECORD = 'design_annual_probability = 0.01\nannual_maxima = "maxima.csv"\nfit = { family = "gev", basis = "gauge" }'
MAXIMA = "flow_m3_s\n" + "".join(f"{flow:.2f}\n" for flow in genextreme.rvs(-0.05, 3.1, 0.9, 30, random_state=2))


def with_flow(lines: str, dependence: str = "") -> str:
    return edited((FLOW, lines), (DEPENDENCE, dependence))


FLOODS = with_flow(
    f"design_annual_probability = 0.01\nannual = {{ {GEV}, equivalent_years = 30 }}\ndesign_life_years = 50"
)
"""A study whose design flow comes from annual maxima."""


def goes_with(first: str, second: str) -> str:
    return f'[[dependence]]\nbetween = ["{first}", "{second}"]\nrank_correlation = 0.3\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "maxima.csv").write_text(MAXIMA, encoding="utf-8")
    return tmp_path


def test_annual_maxima_beside_a_design_flow(folder: Path) -> None:
    problem = built(folder, with_flow(f"{FLOW}\nannual = {{ {GEV}, basis = 'region' }}\ndesign_life_years = 50"))
    given = problem.annual
    assert given is not None
    assert given.floods.known
    # Reference: SciPy's genextreme with the same parameters.
    assert given.floods.flood(0.01)[0] == pytest.approx(genextreme.isf(0.01, -0.05, 3.1, 0.9))
    assert given.life_years == 50
    assert "flow.design_m3_s" in problem.inputs.names
    assert "flow.design_m3_s" not in given.copula.names
    line = next(item for item in problem.assumptions if item.name == ANNUAL)
    assert (line.uncertain, line.basis, line.kind) == (True, "region", "each flood")
    assert "parameters taken as known" in line.words


def test_a_design_flow_from_known_annual_maxima_is_certain(folder: Path) -> None:
    lines = "design_annual_probability = 0.02\nannual = { gumbel = { location = 3, scale = 1 }, basis = 'region' }"
    problem = built(folder, with_flow(lines))
    assert problem.fixed["flow.design_m3_s"] == pytest.approx(gumbel_r.isf(0.02, 3, 1))  # SciPy
    assert next(item for item in problem.assumptions if item.name == "flow.design_m3_s").basis == "region"


def test_a_design_flow_from_a_record_is_as_uncertain_as_the_record_leaves_it(folder: Path) -> None:
    problem = built(folder, with_flow(RECORD))
    flow = problem.inputs.items[problem.inputs.index("flow.design_m3_s")].distribution
    assert isinstance(flow, FloodOf)
    assert problem.annual is not None
    floods = problem.annual.floods
    assert floods.fit is not None
    assert floods.fit.years == 30
    low, high = np.quantile(floods.flood(0.01), [0.05, 0.95])
    assert flow.quantile([0.05, 0.95]) == pytest.approx([low, high], rel=0.01)
    assert low < float(floods.best.quantile(0.99)) < high


def test_the_seed_of_the_run_is_that_of_the_alternatives(folder: Path) -> None:
    first, again = (built(folder, with_flow(RECORD)).annual for _ in range(2))
    other = built(folder, with_flow(RECORD).replace("seed = 3", "seed = 4")).annual
    assert first is not None
    assert again is not None
    assert other is not None
    assert first.floods.alternatives == again.floods.alternatives != other.floods.alternatives


def test_equivalent_years_make_parameters_uncertain(folder: Path) -> None:
    spread = []
    for years in (20, 200):
        lines = f"design_annual_probability = 0.01\nannual = {{ {GEV}, equivalent_years = {years} }}"
        given = built(folder, with_flow(lines)).annual
        assert given is not None
        spread.append(float(np.std(given.floods.flood(0.01))))
    assert spread[0] > 2.0 * spread[1]


def test_log_pearson_three_is_given_by_its_parameters(folder: Path) -> None:
    lines = "design_annual_probability = 0.01\nannual = { log_pearson3 = { mean_log10 = 0.5, sd_log10 = 0.15, skew_log10 = 0.2 } }"
    given = built(folder, with_flow(lines)).annual
    assert given is not None
    # Handbook frequency factor for skew 0.2 and 1 %: 2.472 (Bulletin 17, appendix 3; from memory, unverified)
    assert given.floods.flood(0.01)[0] == pytest.approx(10 ** (0.5 + 0.15 * 2.472), rel=1e-3)


def test_blockage_and_pattern_come_out_anew_and_all_else_is_knowledge(folder: Path) -> None:
    given = built(folder, with_flow(RECORD)).annual
    assert given is not None
    assert set(given.each_flood) == {"lane.screen.blockage", "lane.screen.pattern"}
    assert "lane.barrel.manning_n" in given.knowledge
    assert given.copula.names == (*given.knowledge, *given.each_flood, ANNUAL)


def test_the_study_may_say_otherwise(folder: Path) -> None:
    text = with_flow(RECORD)
    for old, new in (
        ("at_one = 0.05 } }", 'at_one = 0.05 }, kind = "knowledge" }'),
        ("weights = [0.7, 0.3] } }", 'weights = [0.7, 0.3] }, kind = "knowledge" }'),
        ("high = 1.7 } }", 'high = 1.7 }, kind = "each flood" }'),
    ):
        text = text.replace(old, new)
    problem = built(folder, text)
    assert problem.annual is not None
    assert problem.annual.each_flood == ("lane.road.coefficient",)
    kinds = {item.name: item.kind for item in problem.assumptions}
    assert kinds["lane.screen.blockage"] == "knowledge"
    assert kinds["lane.road.coefficient"] == "each flood"
    assert kinds["lane.barrel.length_m"] is None


def test_what_goes_with_the_flood_of_a_year(folder: Path) -> None:
    dependence = goes_with("flow.annual", "lane.screen.blockage") + goes_with(
        "flow.design_m3_s", "lane.barrel.manning_n"
    )
    problem = built(folder, with_flow(RECORD, dependence))
    assert problem.annual is not None
    copula = problem.annual.copula
    j = copula.names.index("lane.screen.blockage")
    assert copula.correlation[-1, j] == pytest.approx(2 * np.sin(np.pi * 0.3 / 6))  # Pearson 1907, closed form
    assert np.count_nonzero(copula.correlation) == len(copula.names) + 2  # that of the design flow is left out
    design = problem.inputs.copula
    i, k = (design.names.index(name) for name in ("flow.design_m3_s", "lane.barrel.manning_n"))
    assert design.correlation[i, k] > 0.0


FAULTS = [
    (f"{FLOW}\ndesign_annual_probability = 0.01\nannual = {{ {GEV} }}", "flow", "one of design_m3_s and design_annual_probability", "design_m3_s and design_annual_probability", "Keep one of them."),
    (f"annual = {{ {GEV} }}", "flow", "one of design_m3_s and design_annual_probability", "neither", "Add one of them."),
    ("design_annual_probability = 0.01", "flow.design_annual_probability", "design_annual_probability only beside annual maxima", "it without", "Add annual, annual_maxima or peaks."),
    (f"{FLOW}\ndesign_life_years = 50", "flow.design_life_years", "design_life_years only beside annual maxima", "it without", "Add annual, annual_maxima or peaks."),
    (f"{FLOW}\nannual = {{ {GEV} }}\ndesign_life_years = 0", "flow.design_life_years", "a whole number from 1 to 1000", "the number 0", "Correct the number."),
    (f"{FLOW}\nannual = {{ {GEV} }}\n{RECORD.partition(chr(10))[2]}", "flow.annual_maxima", "annual, annual_maxima or peaks", "annual and annual_maxima", "Keep one of them."),
    (f'{FLOW}\nannual_maxima = "maxima.csv"', "flow.annual_maxima", "a fit beside annual_maxima", "none", 'Add fit = { family = "gev" }, for example.'),
    (f'{FLOW}\nfit = {{ family = "gev" }}', "flow.fit", "fit only beside annual_maxima or peaks", "it without", "Remove it, or add annual_maxima or peaks."),
    (RECORD.replace('"gev"', '"gve"'), "flow.fit.family", '"gumbel", "gev", "generalised_logistic", "log_pearson3" or "average"', 'the text "gve"', 'Write "gev".'),
    (RECORD.replace("family =", 'method = "moments", family ='), "flow.fit.method", '"l_moments" or "maximum_likelihood"', 'the text "moments"', 'Write "l_moments".'),
    (f"{FLOW}\nannual = {{ gumble = {{ location = 3, scale = 1 }} }}", "flow.annual.gumble", "one of the keys gumbel", "the unknown key gumble", "Did you mean gumbel?"),
    (f"{FLOW}\nannual = {{ {GEV}, gumbel = {{ location = 3, scale = 1 }} }}", "flow.annual", "one distribution: gumbel, gev", "gev and gumbel", "Keep one of them."),
    (f"{FLOW}\nannual = {{ basis = 'x' }}", "flow.annual", "one distribution: gumbel, gev", "none", "Add one of them."),
    (f"{FLOW}\nannual = {{ normal = {{ mean = 3, sd = 1 }} }}", "flow.annual.normal", "one of the keys gumbel", "the unknown key normal", "Write one of these keys, or remove it."),
    (f"{FLOW}\nannual = {{ gumbel = {{ location = 3, scale = -1 }} }}", "flow.annual.gumbel", "scale above 0", "location = 3, scale = -1", "Correct the parameters of the distribution."),
    (f"{FLOW}\nannual = {{ gumbel = {{ location = 1, scale = 1 }} }}", "flow.annual.gumbel", "annual maxima from 0.0001 to 20000 m3/s", "flows of 0 or less in 7% of the years", "Correct the parameters, or take another family."),
    (f"{FLOW}\nannual = {{ gumbel = {{ location = 8000, scale = 3000 }} }}", "flow.annual.gumbel", "annual maxima from 0.0001 to 20000 m3/s", "a median of 9099.54 and a flood of 28721.8", "Correct the parameters (they are in m3/s)."),
    (f"{FLOW}\nannual = {{ gumbel = {{ location = 3, scale = 1, low = 0 }} }}", "flow.annual.gumbel.low", "one of the keys location, scale", "the unknown key low", "Write one of these keys, or remove it."),
    (f"{FLOW}\nannual = {{ log_pearson3 = {{ mean_log10 = 0.5, sd_log10 = 0.15, skew_log10 = 0.2 }}, equivalent_years = 30 }}", "flow.annual.equivalent_years", "equivalent_years only beside gumbel", "them beside log_pearson3", "Remove them."),
    (f"{FLOW}\nannual = {{ {GEV}, equivalent_years = 5 }}", "flow.annual.equivalent_years", "a whole number from 10 to 1000", "the number 5", "Correct the number."),
    (FLOW.replace("basis", 'kind = "ech flood", basis'), "flow.design_m3_s.kind", '"knowledge" or "each flood"', 'the text "ech flood"', 'Write "each flood".'),
]  # fmt: skip


@pytest.mark.parametrize(("lines", "place", "expected", "got", "remedy"), FAULTS)
def test_faults(folder: Path, lines: str, place: str, expected: str, got: str, remedy: str) -> None:
    fault = next(each for each in faults(folder, with_flow(lines)) if each.place.endswith(f", {place}"))
    assert fault.expected.startswith(expected)
    assert fault.got.startswith(got)
    assert fault.remedy == remedy


@pytest.mark.parametrize(
    ("maxima", "row", "expected", "got"),
    [
        ("value\n3\n", "maxima.csv row 1", "the header flow_m3_s", '"value"'),
        (MAXIMA.replace("\n", "\n-2\n", 1), "maxima.csv row 2", "a flow [m3/s] from 0.0001 to 20000, or 0", "-2"),
        ("flow_m3_s\n" + "3\n4\n" * 3, "", "at least 10 annual maxima", "6"),
        ("flow_m3_s\n" + "3\n" * 12, "", "values that differ", "values that are all alike"),
    ],
)
def test_faults_of_the_record(folder: Path, maxima: str, row: str, expected: str, got: str) -> None:
    (folder / "maxima.csv").write_text(maxima, encoding="utf-8")
    text = with_flow(RECORD)
    fault = only_fault(folder, text)
    assert fault.place == ", ".join(
        part for part in (f"line {line_of('annual_maxima', text)}, flow.annual_maxima", row) if part
    )
    assert fault.expected == expected
    assert fault.got == got


def test_a_likelihood_that_tells_nothing_of_its_error(folder: Path) -> None:
    maxima = genextreme.rvs(0.75, 3.0, 1.0, 11, random_state=5)
    (folder / "maxima.csv").write_text("flow_m3_s\n" + "".join(f"{x:.3f}\n" for x in maxima), encoding="utf-8")
    fault = only_fault(folder, with_flow(RECORD.replace("family =", 'method = "maximum_likelihood", family =')))
    assert "whose likelihood has a maximum" in fault.expected
    assert fault.place.endswith(("flow.fit.method", "flow.annual_maxima"))


@pytest.mark.parametrize(
    ("dependence", "expected", "got", "remedy"),
    [
        (goes_with("flow.annual", "lane.barrel.manning_n"), "beside flow.annual a number that comes out anew in each flood", "lane.barrel.manning_n, which is the same in all floods", 'Write kind = "each flood" beside its distribution, or remove the dependence.'),
        (goes_with("flow.annual", "flow.design_m3_s"), "beside flow.annual a number that comes out anew in each flood", "flow.design_m3_s, which is the same in all floods", 'Write kind = "each flood" beside its distribution, or remove the dependence.'),
        (goes_with("flow.design_m3_s", "lane.screen.blockage"), "a dependence of flow.annual and lane.screen.blockage too, for the floods of a year", "one of flow.design_m3_s only", "Add one; rank_correlation = 0 says that there is none."),
    ],
)  # fmt: skip
def test_faults_of_what_goes_together(folder: Path, dependence: str, expected: str, got: str, remedy: str) -> None:
    fault = only_fault(folder, with_flow(RECORD, dependence))
    assert (fault.expected, fault.got, fault.remedy) == (expected, got, remedy)


def test_the_flood_of_a_year_is_unknown_where_there_are_no_annual_maxima(tmp_path: Path) -> None:
    fault = only_fault(tmp_path, edited(("flow.design_m3_s", "flow.annual")))
    assert fault.got == "the unknown name flow.annual"


def test_a_rating_must_hold_the_median_design_flood(folder: Path) -> None:
    (folder / "tailwater.csv").write_text("flow_m3_s,level_m\n0,29.9\n5,30.8\n", encoding="utf-8")
    text = with_flow(RECORD)
    normal_depth = next(line for line in text.splitlines() if line.startswith("normal_depth"))
    fault = only_fault(folder, text.replace(normal_depth, 'rating = "tailwater.csv"'))
    assert fault.expected.startswith("a rating that holds the median design flow")


PAST = 'historic = { years = 130, threshold_m3_s = 8.0, floods_m3_s = [9.5], basis = "mark of 1894 (invented)" }'
AVERAGED = RECORD.replace('family = "gev"', 'family = "average", method = "maximum_likelihood"')


def test_a_period_before_the_record_and_the_average_of_families(folder: Path) -> None:
    floods = built(folder, with_flow(f"{AVERAGED}\n{PAST}")).annual
    assert floods is not None
    fit = floods.floods.fit
    assert fit is not None
    assert fit.years == 160
    assert fit.plotting_positions[-1] < 1.0 / 160.0
    assert "1 floods above 8 m³/s in the 130 years before" in floods.floods.words
    assert "average of" in floods.floods.words


def test_a_year_column_and_years_without_a_flow(folder: Path) -> None:
    """The same floods with their years are the same record; a year without any is one below the least of the others."""
    flows = [float(line) for line in MAXIMA.splitlines()[1:]]
    dated = "year,flow_m3_s\n" + "".join(f"{1990 + k},{flow:.2f}\n" for k, flow in enumerate(flows))
    plain = built(folder, with_flow(RECORD)).annual
    (folder / "maxima.csv").write_text(dated, encoding="utf-8")
    with_years = built(folder, with_flow(RECORD)).annual
    assert plain is not None
    assert with_years is not None
    assert with_years.floods.best == plain.floods.best
    (folder / "maxima.csv").write_text(f"{dated}2021,0\n", encoding="utf-8")
    lp3 = RECORD.replace('family = "gev"', 'family = "log_pearson3", method = "maximum_likelihood"')
    dry = built(folder, with_flow(lp3)).annual
    assert dry is not None
    assert "1 of them known only as below" in dry.floods.words
    (folder / "maxima.csv").write_text(f"{dated}1990,3.0\n", encoding="utf-8")
    (fault,) = faults(folder, with_flow(RECORD))
    assert (fault.expected, fault.got) == ("each year once, a whole number", "1990")


def test_a_date_column(folder: Path) -> None:
    """The same floods on their days are the same record, two of them in one year that began in autumn."""
    flows = [float(line) for line in MAXIMA.splitlines()[1:]]
    days = ["1990-01-05", "1990-11-20T06:30", *(f"{1992 + k}-02-03" for k in range(len(flows) - 2))]
    dated = "date,flow_m3_s\n" + "".join(f"{day},{flow:.2f}\n" for day, flow in zip(days, flows, strict=True))
    plain = built(folder, with_flow(RECORD)).annual
    (folder / "maxima.csv").write_text(dated, encoding="utf-8")
    on_days = built(folder, with_flow(RECORD)).annual
    assert plain is not None
    assert on_days is not None
    assert on_days.floods.best == plain.floods.best
    for row, expected, got in (
        ("1990-11-20,3.0", "each day once", "1990-11-20"),
        ("1990-12-24,3.0", "at most 2 annual maxima in a calendar year", "one more in 1990"),
        ("24/12/2019,3.0", "a number in every cell, and a date as 2003-11-14", '"24/12/2019"'),
    ):
        (folder / "maxima.csv").write_text(f"{dated}{row}\n", encoding="utf-8")
        fault = faults(folder, with_flow(RECORD))[0]
        assert (fault.expected, fault.got) == (expected, got)


@pytest.mark.parametrize(
    ("lines", "place", "expected"),
    [
        (f"{RECORD}\n{PAST}", "flow.fit.method", "maximum_likelihood, for years before the record"),
        (f"{AVERAGED}\n{PAST.replace('9.5', '7.0')}", "flow.historic.floods_m3_s", "floods at or above threshold_m3_s"),
        (f"{AVERAGED}\n{PAST.replace('130', '0')}", "flow.historic.years", "a whole number"),
        (f"{FLOW}\n{PAST}", "flow.historic", "historic only beside annual_maxima"),
    ],
)
def test_faults_of_a_period_before(folder: Path, lines: str, place: str, expected: str) -> None:
    fault = faults(folder, with_flow(lines))[0]
    assert fault.place.endswith(place)
    assert fault.expected.startswith(expected)
