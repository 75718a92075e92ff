"""The floods of a year in the report, in its figure, and in the files."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from overbank.files.store import tables, write_tables
from overbank.outputs.annual import Annual
from overbank.report import floods
from overbank.report.answer import answer
from overbank.report.frequency import frequency, reduced
from overbank.report.register import assumptions, checks
from overbank.report.tables import key_figures
from overbank.site.tailwater import FixedLevel, Rating
from overbank.words import one_in, rounded

from .outcomes import MAXIMA, outcome
from .pages import drawings, page
from .test_figures import boxes

FITTED, NEVER = "floods of a year", "floods that never reach"


def annual(study: str) -> Annual:
    found = outcome(study).annual
    assert found is not None
    return found


def test_the_section_is_there_only_where_floods_of_a_year_are_asked_about() -> None:
    assert "Floods of a year" in page(FITTED).text
    assert "Floods of a year" not in page("lane").text


def test_the_answer_says_the_year_the_life_and_the_assurance() -> None:
    words, found = str(answer(outcome(FITTED))), annual(FITTED)
    assert rounded(found.probability, "p").value in words
    assert f"{one_in(found.probability.value)}" in words
    assert found.life is not None
    once = rounded(found.life.probability, "p").value
    assert f"Over 50 years the probability of at least one overtopping is <strong>{once}" in words
    assert found.unblocked is not None
    assert f"blockage turns {one_in(found.unblocked.probability.value)} a year into" in words
    assert (
        "In the flood of an annual probability of 1\u00a0% the water stays below the bank with an assurance of" in words
    )


def test_what_never_happens_is_said_in_words() -> None:
    words = str(answer(outcome(NEVER)))
    assert "In a year the water does not go over the bank in any of" in words
    assert "blockage turns" not in words


def test_the_table_has_a_row_for_each_flood() -> None:
    rows = floods.rows(outcome(FITTED))
    assert [row.probability for row in rows] == [
        f"{p}\u00a0%" for p in ("50", "20", "10", "5", "4", "2", "1", "0.5", "0.2", "0.1")
    ]
    line = annual(FITTED).lines[6]
    assert float(rows[6].flow) == pytest.approx(line.flow, rel=0.005)
    assert rows[6].assurance == rounded(line.assurance, "p").value
    assert floods.rows(outcome(NEVER))[0].flow_range == "taken as known"
    assert floods.rows(outcome("lane")) == ()


def test_what_is_knowledge_and_what_comes_anew_is_printed() -> None:
    text = page(FITTED).text
    assert "Anew in each flood: screen, blocked share of “lane”; screen, pattern of the blockage of “lane”" in text
    assert "and the parameters of the flood distribution" in text
    assert "and the parameters of the flood distribution" not in page(NEVER).text
    kinds = {entry.path: entry.kind for group in assumptions(outcome(FITTED)) for entry in group.entries}
    assert kinds["lane.screen.blockage"] == "each flood"
    assert kinds["lane.barrel.manning_n"] == "knowledge"
    assert kinds["lane.barrel.length_m"] == ""
    assert kinds["flow.annual"] == "each flood"


def test_notes_tell_the_record_the_years_and_the_debris() -> None:
    notes = " ".join(floods.notes(outcome(FITTED)))
    assert "fitted to 31 annual maxima by L-moments" in notes
    assert "L-skew" in notes
    assert "gives an annual probability of 1\u00a0% is larger than the 1\u00a0% flood in the table" in notes
    found = annual(FITTED)
    short = 100.0 * (1.0 - (1.0 - found.probability.value) ** 50)
    assert f"from the averaged annual probability alone it would come out as {short:.3g}" in notes.lower()
    assert "blocked share of “lane” goes with the flood" in notes
    assert "goes with the flood" not in " ".join(floods.notes(outcome(NEVER)))


def test_key_figures_and_checks() -> None:
    group = next(group for group in key_figures(outcome(FITTED)) if group.title.endswith("in a year"))
    assert [figure.label for figure in group.figures][-1] == "at least once in 50 years"
    found = {check.what: check for check in checks(outcome(FITTED))}
    assert found["Two methods, floods of a year"].good
    assert found["Rising level, floods of a year"].good


@pytest.mark.parametrize("study", [FITTED, NEVER])
def test_no_text_of_the_figure_leaves_the_sheet_or_meets_another(study: str) -> None:
    width, height, found = boxes(drawings(study)["frequency"])
    for i, (words, left, right, top, low) in enumerate(found):
        assert left >= 0.0, words
        assert right <= width, words
        assert top >= 0.0, words
        assert low <= height, words
        for other, second_left, second_right, second_top, second_low in found[:i]:
            across = min(right, second_right) - max(left, second_left)
            up = min(low, second_low) - max(top, second_top)
            assert across <= 0.5 or up <= 0.5, f"{words!r} meets {other!r}"


def test_the_figure_shows_the_record_and_the_curves() -> None:
    levels, flows = frequency(outcome(FITTED)).axes
    found = annual(FITTED)
    best = flows.get_lines()[0].get_xydata()
    # a GEV at its own reduced variate: the fitted quantile (closed form of the axis: -ln(-ln(1 - p)))
    one = np.interp(-np.log(-np.log(0.99)), best[:, 0], best[:, 1])
    assert one == pytest.approx(float(found.given.floods.best.quantile(0.99)), rel=0.01)
    assert len(flows.get_lines()[1].get_xydata()) == 31
    dot = levels.get_lines()[-1].get_xydata()[0]
    assert dot[0] == pytest.approx(float(reduced(found.probability.value)))


def test_files(tmp_path: Path) -> None:
    write_tables(outcome(FITTED), tmp_path)
    lines = pd.read_csv(tmp_path / "floods.csv")
    assert list(lines["annual_probability"]) == [line.annual_probability for line in annual(FITTED).lines]
    assert (lines["low"] <= lines["assurance"]).all()
    levels = pd.read_csv(tmp_path / "level_frequency.csv")
    assert (levels["knowledge_5"] <= levels["knowledge_95"]).all()
    assert (levels["with_nothing_blocked"] <= levels["probability"] + 0.02).all()
    maxima = pd.read_csv(tmp_path / "annual_maxima.csv")
    assert sorted(MAXIMA.split()[1:], key=float) == [f"{flow:.2f}" for flow in maxima["flow_m3_s"]]
    told = json.loads((tmp_path / "summary.json").read_text(encoding="utf-8"))["floods_of_a_year"]
    found = annual(FITTED)
    value = told["probability_of_overtopping"]["threshold_method"]["value"]  # of six digits
    assert value == pytest.approx(found.probability.value, rel=1e-5)
    assert told["years_between_overtoppings"]["value"] == pytest.approx(1.0 / found.probability.value, rel=1e-4)
    assert told["over_years"]["years"] == 50
    assert "annual_maxima" not in tables(outcome(NEVER))
    assert "floods" not in tables(outcome("lane"))


def test_a_rating_that_ends_before_the_floods_is_told() -> None:
    found = annual(NEVER)  # Gumbel(2.4, 0.6): the 10 % flood is 3.75 m3/s, the 5 % flood 4.18 (closed form)
    (words,) = floods.beyond_rating(Rating((0.0, 4.0), (29.0, 31.0)), found)
    assert "ends at 4.00 m³/s, below the flood of an annual probability of 5\u00a0%" in words
    assert not list(floods.beyond_rating(Rating((0.0, 9.0), (29.0, 31.0)), found))
    assert not list(floods.beyond_rating(FixedLevel(), found))
