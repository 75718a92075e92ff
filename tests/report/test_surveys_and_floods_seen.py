"""Surveys, worth of knowing, floods seen and automatic samples: in the report, in the terminal and in the files."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from overbank.commands.terminal import show_answer
from overbank.files.store import tables, write_tables
from overbank.outputs.outcome import Outcome
from overbank.report.answer import answer
from overbank.report.learnt import learnt
from overbank.report.page import write_report
from overbank.report.register import checks
from overbank.report.surveys import choice_words, lines, not_on_offer, worth_lines, worth_notes
from overbank.run import run
from overbank.words import rounded
from pond import SHIFT, pond

from .outcomes import outcome
from .pages import page
from .reading import Page

SEEN, CONTRADICTED = "floods seen", "a flood that contradicts"
QUICK = ("samples = 8192", "samples = 1024")


def page_of(made: Outcome, folder: Path) -> Page:
    write_report(made, folder)
    return Page((folder / "report.html").read_text(encoding="utf-8"))


def files(made: Outcome, folder: Path) -> dict[str, object]:
    write_tables(made, folder)
    said: dict[str, object] = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    return said


def test_the_sections_are_there_only_where_they_have_something_to_say(tmp_path: Path) -> None:
    plain = page_of(run(pond(tmp_path, QUICK)), tmp_path).text
    full = page(SEEN).text
    for title in ("Which survey would be worth its cost", "What the floods seen teach"):
        assert title not in plain
        assert title in full


def test_surveys_stand_in_the_order_of_what_they_do_for_their_cost() -> None:
    made = outcome(SEEN)
    assert made.surveys is not None
    shown = lines(made)
    assert [line.path for line in shown] == [each.input for each in made.surveys.narrowings]
    bank = next(line for line in shown if line.path == "lane.bank_level_m")
    assert bank.cost == "600"
    assert bank.narrowing.value == "0\u00a0mm"
    assert bank.probability.value.endswith("points")
    assert bank.worth is not None


def test_the_choice_is_told_in_money(tmp_path: Path) -> None:
    made = outcome(SEEN)
    words = choice_words(made)
    assert "loses 100,000; acting costs 20,000" in words
    assert "Knowing every input before deciding would be worth" in words
    assert words.replace("\u00a0", " ") in page(SEEN).text.replace("\u00a0", " ")
    assert choice_words(outcome("lane")) == ""
    assert worth_lines(outcome("lane")) == worth_notes(outcome("lane")) == ()
    assert [line.path for line in worth_lines(made)[:2]] == ["lane.screen.blockage", "flow.design_m3_s"]
    assert "lane.barrel.manning_n" in " ".join(worth_notes(made))
    said = files(made, tmp_path)["surveys"]
    assert isinstance(said, dict)
    chance = made.overtopping.best.value
    assert said["worth_of_knowing"]["better_today"] == ("act" if 100_000 * chance > 20_000 else "keep as it is")


def test_an_input_that_changes_no_decision_is_worth_0(tmp_path: Path) -> None:
    money = ("assurance = 0.9", "assurance = 0.9\nloss_if_overtopped = 1000\ncost_of_acting = 2000")
    made = run(pond(tmp_path, QUICK, money))
    assert worth_lines(made) == ()
    assert worth_notes(made) == ("0, no decision would change: flow.design_m3_s, tailwater.rating_shift_m.",)
    table = tables(made)["worth_of_knowing"]
    assert set(table["words"].str[:29]) == {"0: no decision would change, "}
    assert "offers no survey" in page_of(made, tmp_path).text


def test_a_survey_for_nothing_is_free(tmp_path: Path) -> None:
    offered = (SHIFT, SHIFT.replace(', basis = "invented"', ", survey = { sd_after = 0.05, cost = 0 }"))
    made = run(pond(tmp_path, QUICK, offered))
    (line,) = lines(made)
    assert (line.cost, line.per_cost) == ("0", ("free", ""))
    said = files(made, tmp_path)
    assert "above every level" not in json.dumps(said["surveys"])


def test_prior_stands_beside_posterior(tmp_path: Path) -> None:
    made, found = outcome(SEEN), learnt(outcome(SEEN))
    assert found is not None
    assert made.learnt is not None
    assert made.learnt.taught is not None
    assert len(found.seen) == 2
    assert {line.path for line in found.inputs} == set(made.problem.inputs.names) - set(made.learnt.anew)
    text = page(SEEN).text
    assert f"{made.learnt.taught.effective:,.0f} of 512 samples effective" in " ".join(text.split())
    said = files(made, tmp_path)["floods_seen"]
    assert isinstance(said, dict)
    assert said["effective_samples"] == pytest.approx(made.learnt.taught.effective, abs=0.05)
    assert set(said["probability_of_overtopping"]) == {"prior", "posterior"}


def test_a_refusal_stands_in_its_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = outcome(CONTRADICTED)
    text = " ".join(page(CONTRADICTED).text.split())
    assert "Nothing is learnt. observation 1: the observation contradicts the model." in text
    assert "as if no flood had been seen" in text
    said = files(made, tmp_path)["floods_seen"]
    assert isinstance(said, dict)
    assert "contradicts the model" in said["refused"]
    assert not (tmp_path / "learnt.csv").exists()
    show_answer(made)
    assert "Nothing is learnt from the floods seen." in " ".join(capsys.readouterr().out.split())
    told = next(check for check in checks(made) if check.what == "Floods seen")
    assert told.good is False


def test_the_terminal_tells_the_choice_and_what_the_floods_seen_teach(capsys: pytest.CaptureFixture[str]) -> None:
    made = outcome(SEEN)
    assert made.learnt is not None
    taught = made.learnt.taught
    assert taught is not None
    assert made.surveys is not None
    assert made.surveys.worth is not None
    show_answer(made)
    said = " ".join(capsys.readouterr().out.split())
    assert f"The better choice today: {made.surveys.worth.decision.better}." in said
    before, after = (rounded(each, "m").value for each in (taught.level.prior, taught.level.posterior))
    assert " ".join(f"from {before} to {after}, the probability".split()) in said


def test_the_answer_tells_what_the_floods_seen_change() -> None:
    made = outcome(SEEN).learnt
    assert made is not None
    assert made.taught is not None
    after = rounded(made.taught.probability.posterior, "p").value
    assert f"they take the probability to <strong>{after}</strong>" in str(answer(outcome(SEEN)))
    assert "it must be known why" in str(answer(outcome(CONTRADICTED)))
    assert "floods seen" not in str(answer(outcome("lane")))


def test_floods_that_fit_are_in_order() -> None:
    told = next(check for check in checks(outcome(SEEN)) if check.what == "Floods seen")
    assert told.good is True


def test_files_of_floods_and_surveys(tmp_path: Path) -> None:
    write_tables(outcome(SEEN), tmp_path)
    seen = pd.read_csv(tmp_path / "floods_seen.csv")
    assert seen["observation"].tolist() == ["observation 1", "observation 2"]
    assert (seen["foretold_5_m"] < seen["foretold_95_m"]).all()
    assert (seen["chance"] > 1e-3).all()
    learnt_table = pd.read_csv(tmp_path / "learnt.csv")
    assert set(learnt_table["input"]) == set(outcome(SEEN).problem.inputs.names)
    surveys = pd.read_csv(tmp_path / "surveys.csv")
    assert set(surveys["input"]) == {"lane.bank_level_m", "tailwater.normal_depth.slope"}
    worth = pd.read_csv(tmp_path / "worth_of_knowing.csv")
    assert worth["knowing"].value_counts().to_dict() == {"the input itself": 12, "result of the survey": 2}
    samples = pd.read_parquet(tmp_path / "samples.parquet")
    assert samples["weight"].sum() == pytest.approx(1.0)


def test_automatic_samples_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    auto = ("samples = 8192", 'samples = "auto"\nprecision_m = 1e-9\nmost_samples = 4096')
    made = run(pond(tmp_path, auto))
    told = next(check for check in checks(made) if check.what == "Number of samples")
    assert told.good is False
    assert told.found.endswith("Tried: 2,048, 4,096")
    said = files(made, tmp_path)["automatic_samples"]
    assert isinstance(said, dict)
    assert said["precision_met"] is False
    steps = pd.read_csv(tmp_path / "automatic_samples.csv")
    assert steps["samples"].tolist() == [2048, 2048, 4096, 4096]
    show_answer(made)
    assert "Even 4096 samples do not give the precision asked for" in " ".join(capsys.readouterr().out.split())


def test_that_what_matters_most_is_not_on_offer_is_said() -> None:
    """Quillet Lane offers surveys of bank and slope; its blockage drives the level and cannot be surveyed."""
    made = outcome("lane")
    assert not_on_offer(made).startswith("None of these surveys is of what drives the level most: screen, blocked")
    assert made.surveys is not None
    (first, *_) = made.surveys.narrowings
    of_it = replace(made.surveys, narrowings=(replace(first, input="lane.screen.blockage"),))
    assert not_on_offer(replace(made, surveys=of_it)) == ""
