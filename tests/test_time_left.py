"""The time that is left of a run, by a clock of the test's own."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from overbank.commands.progress import ORDINARY, WRITING, TimeLeft, expected_of, in_words
from overbank.run import stages_of
from overbank.sampling.run import SAMPLING, SOLVING


class Clock:
    """Stands until it is moved."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def test_a_run_twice_as_slow_as_it_was_takes_twice_as_long() -> None:
    """Stages of 1, 4 and 5 s take 2, 8 and 10: after the first 18 s are left, after the second 10."""
    clock = Clock()
    left = TimeLeft({"a": 1.0, "b": 4.0, "c": 5.0}, clock)
    left.begin("a")
    assert left.seconds() is None
    clock.now += 2.0
    left.begin("b")
    assert left.seconds() == pytest.approx(18.0)
    clock.now += 6.0
    assert left.seconds() == pytest.approx(12.0)
    clock.now += 2.0
    left.begin("c")
    assert (left.seconds(), left.share) == (pytest.approx(10.0), pytest.approx(0.5))
    clock.now += 60.0
    assert left.seconds() == 0.0, "late, and never a time below nothing"


def test_stages_that_nobody_knew_of_and_stages_that_come_twice_do_not_count() -> None:
    clock = Clock()
    left = TimeLeft({"a": 1.0, "b": 1.0}, clock)
    for stage in ("a", "new", "a", "b"):
        left.begin(stage)
        clock.now += 1.0
    assert left.share == pytest.approx(0.5)
    assert TimeLeft({}, clock).seconds() is None


def test_what_a_stage_takes_is_read_off_earlier_results(tmp_path: Path) -> None:
    stages = (SAMPLING, SOLVING, WRITING)
    assert expected_of(tmp_path, stages) == {stage: ORDINARY[stage] for stage in stages}
    (tmp_path / "manifest.json").write_text(json.dumps({"seconds": {SAMPLING: 8, "other": 2}}), encoding="utf-8")
    assert expected_of(tmp_path, stages) == {SAMPLING: 8.0, WRITING: 2.0}
    (tmp_path / "manifest.json").write_text('{"seconds": [1]}', encoding="utf-8")
    assert expected_of(tmp_path, stages) == {stage: ORDINARY[stage] for stage in stages}


def test_the_ordinary_stages_are_stages_of_a_run() -> None:
    """A stage that is renamed would lose its time."""
    assert set(ORDINARY) <= {*stages_of(None, quick=False), WRITING}
    assert "ranking what drives the level" not in stages_of(None, quick=True)


@pytest.mark.parametrize(
    ("seconds", "words"), [(3, "a few seconds left"), (44, "about 40 s left"), (200, "about 3 min left")]
)
def test_it_is_told_no_finer_than_it_is_known(seconds: float, words: str) -> None:
    assert in_words(seconds) == words
