"""An authority's own figures against a run: each is found again in another way, on the study itself changed by hand."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from overbank.analysis.intervals import Estimate
from overbank.files.samples import sample_table
from overbank.files.store import summary
from overbank.outputs.medians import deterministic_run
from overbank.outputs.outcome import Outcome
from overbank.outputs.requirements import AskedFor, Required, requirement_table
from overbank.report import requirements as shown
from overbank.report.page import write_report
from overbank.run import run
from overbank.study.load import Study, read_study
from overbank.study.requirements import SUBJECTS
from small import DEPENDENCE, FLOW, SMALL, written

FIGURES = {
    "uplift of flow": (20, "%"),
    "blockage": (67, "%"),
    "freeboard": (150, "mm"),
    "freeboard to soffit": (0.3, "m"),
    "smallest size": (0.6, "m"),
    "probability of overtopping": (5, "%"),
    "rise of level": (10, "mm"),
    "flood probability": (1, "%"),
}
FILE = 'authority = "an invented board"\n' + "".join(
    f'\n[[line]]\nname = "line on {about}"\nabout = "{about}"\n'
    f'figure = {figure}\nunit = "{unit}"\nreference = "clause {k}"\n'
    for k, (about, (figure, unit)) in enumerate(FIGURES.items())
)
DROWNED = (
    '\n[[alternative]]\nname = "drowned"\nset = { "tailwater.level_m" = { normal = { mean = 31.6, sd = 0.1 } } }\n'
)
TEXT = SMALL.replace("samples = 4096", "samples = 1024").replace(
    "assurance = 0.9", 'assurance = 0.9\nrequirements = "asked.toml"'
)


def study(folder: Path, *changes: tuple[str, str], more: str = DROWNED) -> Study:
    text = TEXT
    for old, new in changes:
        assert text.count(old) == 1
        text = text.replace(old, new)
    file = written(folder, text + more)
    (folder / "asked.toml").write_text(FILE, encoding="utf-8")
    return read_study(file)


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    return run(study(tmp_path_factory.mktemp("asked")), only=("requirements", "allowances", "checks"))


def line(outcome: Outcome, about: str) -> Required:
    assert outcome.requirements is not None
    return next(each for each in outcome.requirements.lines if each.about == about)


def test_every_subject_is_read_in_the_order_of_the_file(outcome: Outcome) -> None:
    assert outcome.requirements is not None
    assert [each.about for each in outcome.requirements.lines] == list(FIGURES)
    assert set(FIGURES) == set(SUBJECTS)
    assert outcome.requirements.authority == "an invented board"


def test_the_uplift_brings_the_water_to_the_bank(outcome: Outcome, tmp_path: Path) -> None:
    """One run of the study with its median flow raised by what was found stands at the median bank."""
    uplift = line(outcome, "uplift of flow").has.value
    raised = (FLOW, f"design_m3_s = {6.0 * (1.0 + uplift)}")
    once = deterministic_run(study(tmp_path, raised, (DEPENDENCE, "")))
    assert float(once.outcome.element("lane").level[0]) == pytest.approx(32.2, abs=1e-3)


def test_overtopping_with_the_uplift_is_that_of_the_study_with_a_larger_flow(outcome: Outcome, tmp_path: Path) -> None:
    """A lognormal with its median raised by 20 % gives every sample 1.2 times its flow: the same plain count."""
    (beside,) = line(outcome, "uplift of flow").beside
    raised = run(study(tmp_path, (FLOW, FLOW.replace("6.0", "7.2")), more=""), only=("overtopping",))
    assert beside.figure.value == raised.overtopping.plain.value


def test_the_blockage_brings_the_water_to_the_bank(outcome: Outcome) -> None:
    from overbank.model import Model

    found = line(outcome, "blockage")
    level = Model(outcome.problem).level_with("lane.screen.blockage", found.has.value)
    assert level == pytest.approx(32.2, abs=2e-3)
    assert outcome.allowances is not None
    fixed = next(each for each in outcome.allowances.fixed if each.blockage == 0.67)
    assert found.beside[0].figure.value == pytest.approx(fixed.overtopping.value)


def test_freeboards_are_counted_from_the_samples(outcome: Outcome) -> None:
    level = float(outcome.deterministic.element("lane").level[0])
    found = line(outcome, "freeboard")
    assert found.has.value == pytest.approx(32.2 - level)
    table = sample_table(outcome)
    assert found.beside[0].figure.value == pytest.approx(float(np.mean(table["lane.depth_over_bank_m"] > -0.15)))
    assured = outcome.headwater.quantiles[0.9].value
    assert found.beside[1].figure.value == pytest.approx(32.2 - assured)
    check = next(each for each in outcome.checks.figures if each.name == "freeboard_to_soffit_m")
    assert line(outcome, "freeboard to soffit").has.value == check.certain


def test_what_stands_in_the_study(outcome: Outcome) -> None:
    assert line(outcome, "smallest size").has.value == 1.5
    assert line(outcome, "probability of overtopping").has == outcome.overtopping.best
    assert outcome.comparison is not None
    difference = outcome.comparison.arrangements[1].difference
    assert difference is not None
    assert line(outcome, "rise of level").has == difference.median
    assert "drowned" in line(outcome, "rise of level").basis
    assert math.isnan(line(outcome, "flood probability").has.value)


def test_short_by_is_positive_where_the_study_falls_short(outcome: Outcome) -> None:
    for each in (line(outcome, "smallest size"), line(outcome, "probability of overtopping")):
        assert each.short == pytest.approx(
            each.asked - each.has.value if each.at_least else each.has.value - each.asked
        )
    assert line(outcome, "smallest size").short == pytest.approx(-0.9)
    assert line(outcome, "probability of overtopping").short > 0.0


def test_table_and_summary_hold_every_line(outcome: Outcome) -> None:
    assert outcome.requirements is not None
    table = requirement_table(outcome.requirements)
    assert list(table["about"]) == list(FIGURES)
    assert list(table["asked"]) == pytest.approx([0.2, 0.67, 0.15, 0.3, 0.6, 0.05, 0.01, 0.01])
    assert set(table["asks_for"]) == {"at least", "at most"}
    told = summary(outcome)["requirements"]
    assert [each["reference"] for each in told] == [f"clause {k}" for k in range(len(FIGURES))]
    assert told[-1]["has"]["value"] is None


def test_what_lies_beyond_all_that_was_looked_at_is_said_in_words(outcome: Outcome) -> None:
    endless = Estimate(math.inf, math.nan, math.nan, "one run")
    made = Required("a", "uplift of flow", "%", "b", 0.2, True, endless, "c")
    (told,) = summary(replace(outcome, requirements=AskedFor("d", (made,))))["requirements"]
    assert (told["has"]["value"], told["short_by"]) == ("more than all looked at", None)
    assert shown.rows_of(AskedFor("d", (made,)))[0].has == "more than all that was looked at"


def test_the_page_sets_each_line_against_the_result_without_a_verdict(outcome: Outcome) -> None:
    rows = shown.rows(outcome)
    for row in rows:
        assert row.against.startswith(
            ("meets the figure", "below the figure by", "above the figure by", "nothing to set")
        )
    by = {each.about: row for each, row in zip(outcome.requirements.lines, rows, strict=True)}  # type: ignore[union-attr]
    assert by["smallest size"][2:4] == ("at least 0.6\u00a0m", "1.50\u00a0m")
    assert by["smallest size"].against == "meets the figure"
    assert by["freeboard"].asked == "at least 150\u00a0mm"
    assert by["flood probability"].against == "nothing to set against it"


def test_the_page_shows_them_and_a_study_without_a_file_shows_nothing(outcome: Outcome, tmp_path: Path) -> None:
    write_report(outcome, tmp_path)
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    own = text.split('<section id="requirements"')[1].split("</section>")[0]
    for row in shown.rows(outcome):
        assert all(part in own for part in (row.name, row.reference, row.asked, row.has, row.against))
    assert 'href="#requirements"' in text
    assert not re.search(r"\b(pass|fail|compl|law|verdict|must)", own)
    assert shown.rows(replace(outcome, requirements=None)) == ()


def test_differences_are_said_with_no_digit_too_many() -> None:
    def said(asked: float, at_least: bool, has: Estimate, unit: str = "m") -> str:
        made = Required("a", "freeboard", unit, "b", asked, at_least, has, "c")
        (row,) = shown.rows_of(AskedFor("d", (made,)))
        return row.against

    once = Estimate(0.1, math.nan, math.nan, "one run")
    assert said(0.3, True, once) == "below the figure by 0.20\u00a0m"
    assert said(0.1004, True, once) == "below the figure by less than 0.01\u00a0m"
    assert said(0.02, False, once, "mm") == "above the figure by 80\u00a0mm"
    assert said(0.1, True, once) == "meets the figure"
    near = Estimate(0.051, 0.048, 0.054, "count")
    assert said(0.05, False, near, "%") == "above the figure by 0.1\u00a0points; the interval holds the figure"
    assert said(0.3, True, Estimate(-math.inf, math.nan, math.nan, "one run")) == "below the figure"
    assert said(0.3, True, Estimate(math.inf, math.nan, math.nan, "one run")) == "meets the figure"


def test_the_figures_at_once_are_one_run_of_the_study_changed_by_hand(outcome: Outcome, tmp_path: Path) -> None:
    """Each line by itself may be met where all together are not: one run with the flow, and the blockage, as asked."""
    assert outcome.requirements is not None
    asked, allowed = outcome.requirements.at_once
    assert outcome.blockage is not None
    debris = "blockage = { inflated_beta = { at_zero = 0.2, a = 1.5, b = 2.5, at_one = 0.05 } }"
    for found, share in ((asked, 0.67), (allowed, outcome.blockage.allowance.value)):
        by_hand = (FLOW, "design_m3_s = 7.2"), (debris, f"blockage = {share}"), (DEPENDENCE, "")
        level = float(deterministic_run(study(tmp_path / f"{share}", *by_hand)).outcome.element("lane").level[0])
        assert found.level == pytest.approx(level, abs=1e-6)
        assert found.spare == pytest.approx(32.2 - level - 0.15, abs=1e-6)
