"""The statement stands alone, is the same on the page and in its file, and its figures are those of the tables."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from overbank.report import page
from overbank.report.sections.registry import SECTIONS
from overbank.report.statement import statement
from overbank.study.document import Document
from overbank.words import rounded

from .outcomes import TEXTS, outcome
from .reading import Page


def shown(study: str) -> str:
    return page.page(outcome(study), {})


def test_it_names_flood_share_level_datum_debris_evidence_and_version() -> None:
    made, said = outcome("lane"), statement(outcome("lane"))
    level, allowance = made.headwater.quantiles[0.9], made.blockage.allowance
    for words in (
        "Culvert and screen under Quillet Lane (invented): water upstream of the culvert “lane” in the design flood",
        "climate allowance: none: the flow is that of the records",
        f"not exceeded in it with 90 % probability is {rounded(level, 'm').value}".replace("\u00a0", " "),
        "datum: a local datum, 35.12 m on the chapel step (invented)",
        f"with {rounded(allowance, '%').value} ".replace("\u00a0", " "),
        "of the screen of “lane” blocked (a share of its clear opening, spread evenly over it)",
        "nothing is to be added to it for these",
        "with half as much debris",
        "twice as much debris",
        "(evidence: judgement)",
        f"study file SHA-256 {made.study.sha256[:12]}",
    ):
        assert words in said, words
    assert "\n" not in said
    assert "\u00a0" not in said


def test_it_says_how_often_the_allowance_itself_would_go_over() -> None:
    """Read off the table of overtopping by blockage, by straight lines."""
    import numpy as np

    made = outcome("lane")
    curve = made.blockage.fixed
    always = 100.0 * float(np.interp(made.blockage.allowance.value, curve.at, curve.probability))
    found = re.search(r"would go over in ([\d.]+) % \(", statement(made))
    assert found is not None
    assert float(found[1]) == pytest.approx(always, abs=0.6)


def test_what_the_study_says_of_itself_stands_in_it() -> None:
    made = outcome("lane")
    document = Document(
        datum="local datum (invented)", climate_allowance="20 % on the flow (invented)", revision="B", date="1 May"
    )
    content = made.study.content.model_copy(update={"document": document})
    told = replace(made, study=replace(made.study, content=content))
    said, text = statement(told), page.page(told, {})
    assert "datum: local datum (invented)" in said
    assert "climate allowance: 20 % on the flow (invented)" in said
    assert "Revision B, date 1 May" in said
    assert "20 % on the flow (invented)</a>" in text.split('id="reviewers"')[1]
    assert r"revision\000020B" in text.split("</style>")[0]


@pytest.mark.parametrize("study", TEXTS)
def test_page_and_file_hold_the_same_text(study: str, tmp_path: Path) -> None:
    made = outcome(study)
    said = statement(made)
    assert not re.search(r"\b(nan|None|inf|unknown)\b", said)
    assert said in " ".join(Page(shown(study)).text.split())
    page.write_report(replace(made, quick=True), tmp_path)
    assert (tmp_path / "statement.txt").read_text(encoding="utf-8") == f"{statement(replace(made, quick=True))}\n"
    assert "A quick look" in statement(replace(made, quick=True))


def test_no_share_is_quoted_where_none_gives_the_level() -> None:
    said = statement(outcome("no allowance needed"))
    assert "No single blockage of the screen of “lane” gives that level" in said
    assert "stand-in" not in said
    assert "none is allowed for beyond what it fixes" in statement(outcome("no blockage"))


def test_front_comes_before_the_appendices() -> None:
    parts = [section.part for section in SECTIONS]
    assert parts == sorted(parts, key=("front", "appendix").index)
    text = shown("lane")
    assert text.index('id="cautions"') < text.index('id="appendices"') < text.index('id="reviewers"')
    assert text.count('id="appendices"') == 1


def test_a_title_at_the_head_of_a_page_cannot_leave_its_quotation_marks() -> None:
    found = page.css_text('a"b\\</style>\n;é')
    assert re.fullmatch(r'"(?:[A-Za-z0-9]|\\[0-9a-f]{6})*"', str(found))
    assert str(found) == r'"a\000022b\00005c\00003c\00002fstyle\00003e\00000a\00003b\0000e9"'
