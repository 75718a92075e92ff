"""Inspection records on the page: prior beside posterior, what they rest on, and every warning."""

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.outputs.outcome import Outcome
from overbank.report import records
from overbank.report.page import write_report
from overbank.run import run
from small import BLOCKAGE, edited
from study.inspections import RECORDS, study, visits

from .outcomes import outcome
from .reading import Page

SMALLER = ("samples = 4096", "samples = 512")


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    return run(study(tmp_path_factory.mktemp("records"), edited((BLOCKAGE, RECORDS), SMALLER)))


def test_prior_and_posterior_stand_side_by_side(recorded: Outcome, tmp_path: Path) -> None:
    (group,) = records.records(recorded)
    distribution = recorded.problem.inputs.items[recorded.problem.inputs.index("lane.screen.blockage")].distribution
    known = distribution.fit.known[0]  # type: ignore[attr-defined]
    assert group.lines[0].prior == "20.0\u00a0%"
    assert group.lines[0].posterior == f"{100.0 * known.posterior:.1f}\u00a0%"
    write_report(recorded, tmp_path)
    text = Page((tmp_path / "report.html").read_text(encoding="utf-8")).text.replace("\u00a0", " ")
    for cell in (cell for line in group.lines for cell in line):
        assert cell.replace("\u00a0", " ") in text
    assert "local record: 48 usable of 48 visits" in text
    assert "The run takes the posterior predictive" in text
    assert group.warnings
    for warning in group.warnings:
        assert f"To know: {warning}." in text


def test_too_few_looks_are_said_on_the_page(tmp_path: Path) -> None:
    text = edited((BLOCKAGE, RECORDS), SMALLER)
    found = run(study(tmp_path / "few", text, seen=visits(8)))
    (group,) = records.records(found)
    # a Dirichlet prior worth five looks beside eight: 5/13 of it is prior
    assert "38\u00a0% is prior and not looks" in group.taken


def test_other_blockages_have_no_records() -> None:
    made = outcome("lane")
    assert records.records(made) == ()
