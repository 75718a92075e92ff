"""What tests share: a run made once and handed out in copies; a table of facts whose wrong rows are all named."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import shared
from facts import each_holds
from overbank.run import run
from pond import pond

FEW = ("samples = 8192", "samples = 64")


def test_a_run_is_made_once_and_each_caller_has_a_copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(shared.FOLDER, str(tmp_path))
    made: list[object] = []
    monkeypatch.setattr(shared, "run", lambda *words, **more: made.append(words) or run(*words, **more))
    places = [tmp_path / name for name in ("one", "two")]
    for place in places:
        place.mkdir()
    first, second = (shared.shared_run(pond(place, FEW), only=("headwater",)) for place in places)
    assert len(made) == 1
    assert [each.study.folder for each in (first, second)] == places
    assert (
        first.headwater.quantiles
        == second.headwater.quantiles
        == run(first.study, only=("headwater",)).headwater.quantiles
    )
    first.samples.levels[:] = np.nan
    assert np.isfinite(second.samples.levels).all()


def test_another_question_text_or_rating_is_another_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(shared.FOLDER, str(tmp_path))
    made: list[object] = []
    monkeypatch.setattr(shared, "run", lambda *words, **more: made.append(words) or run(*words, **more))
    study = pond(tmp_path, FEW)
    shared.shared_run(study, only=("headwater",))
    assert shared.shared_run(study, only=("medians",)).headwater is None
    shared.shared_run(pond(tmp_path, FEW, ("seed = 5", "seed = 6")), only=("headwater",))
    shared.shared_run(study.with_samples(128), only=("headwater",))
    other = (tmp_path / "rating.csv").read_text(encoding="utf-8").replace("12.0", "12.5")
    monkeypatch.setattr("pond.RATING", other)
    shared.shared_run(pond(tmp_path, FEW), only=("headwater",))
    assert len(made) == 5


def test_every_wrong_row_is_named_and_the_others_are_tried() -> None:
    tried: list[int] = []

    def is_small(row: int) -> None:
        tried.append(row)
        assert row < 3, f"{row} is large"

    with pytest.raises(AssertionError, match=r"2 of 5 rows do not hold") as caught:
        each_holds(range(5), is_small, lambda row: f"row {row}")
    assert tried == [0, 1, 2, 3, 4]
    assert all(words in str(caught.value) for words in ("row 3", "row 4", "4 is large"))
    assert "row 2" not in str(caught.value)


def test_a_row_that_fails_otherwise_is_named_and_no_rows_are_no_proof() -> None:
    def divides(row: int) -> None:
        assert 1 / row

    with pytest.raises(AssertionError, match="0: ZeroDivisionError"):
        each_holds([0], divides)
    each_holds([1], divides)
    with pytest.raises(AssertionError, match="no row"):
        each_holds([], divides)
