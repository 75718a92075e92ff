"""The reviewer's index: every question once, every link met, and a gap where the study says nothing."""

from __future__ import annotations

import pytest

from overbank.report.reviewers_index import QUESTIONS, Answer, index

from .outcomes import TEXTS, outcome
from .pages import page


def answers(study: str) -> dict[str, Answer]:
    return {row.words: row.answer for group in index(outcome(study)) for row in group.rows}


@pytest.mark.parametrize("study", TEXTS)
def test_every_question_is_answered_or_a_gap_or_a_reason(study: str) -> None:
    made, text = page(study), page(study).text
    ids = {attributes["id"] for _, attributes in made.elements if "id" in attributes}
    found = answers(study)
    assert len(found) == len(QUESTIONS)
    for words, answer in found.items():
        assert " ".join(words.split()) in text
        assert " ".join(answer.words.split()) in text
        assert not (answer.link and answer.gap)
        assert not answer.link or answer.link in ids, (words, answer)
        assert not answer.link or answer.place.split(",")[0] in made.text.replace("Reviewer's index", ""), answer


def test_gaps_follow_the_study() -> None:
    assert answers("lane")["What of smaller and larger floods?"].gap
    assert answers("floods of a year")["What of smaller and larger floods?"].link == "floods"
    assert answers("a gap")["Whose judgement is each distribution?"].gap
    assert answers("lane")["Whose judgement is each distribution?"].link == "assumptions"
    assert answers("box")["Does it come with the flood?"].gap
    assert answers("lane")["Does it come with the flood?"].link == "assumptions"
    assert answers("box")["What do bars do for and against people?"] == Answer("there is no screen")
    assert answers("no blockage")["How much is allowed for, why that much, and was the whole range looked at?"].gap
    assert "not assessed because there is no screen" in page("box").text
    assert answers("never a way through")["Can somebody check it without the program?"].gap
