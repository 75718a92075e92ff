"""A register run whole: its table, page and money; stopped and gone on with; the same from any executor."""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from overbank.errors import DomainError
from overbank.register import parts
from overbank.register.outcome import Whole
from overbank.register.reading import check_register, read_both
from overbank.register.results import FILE
from registers import TABLE, computed, written


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A register with one spoilt row, run."""
    where = tmp_path_factory.mktemp("register")
    written(where, TABLE + "bad,,culvert,open,south,1500,,2.4,,,\n")
    return where


@pytest.fixture(scope="module")
def whole(folder: Path) -> Whole:
    return computed(folder)


def test_the_table_has_every_row_that_could_be_computed(folder: Path, whole: Whole) -> None:
    table = pd.read_csv(folder / "out" / "register.csv")
    assert sorted(table["id"]) == ["ford", "lane", "mill", "sill"]
    assert table["rank"].tolist() == [1, 2, 3, 4]
    assert np.all(np.diff(table["probability"]) <= 0.0)
    assert table["among_worst"].sum() == pytest.approx(2.0)
    assert table["among_worst_apart"].sum() == pytest.approx(2.0)
    pd.testing.assert_frame_equal(pd.read_parquet(folder / "out" / "register.parquet"), whole.table)
    np.testing.assert_allclose(table["expected_damage"], 20000.0 * table["probability"])


def test_a_row_set_aside_is_told_and_stops_nothing(folder: Path, whole: Whole) -> None:
    assert (whole.rows, whole.aside) == (5, 1)
    faults = pd.read_csv(folder / "out" / "faults.csv")
    assert faults["id"].tolist() == ["bad"]
    assert faults["column"].tolist() == ["Bank"]
    register, defaults = read_both(folder / "table.csv", None)
    assert check_register(register, defaults) == list(whole.faults)


def test_the_money_goes_where_it_saves_most(whole: Whole) -> None:
    """Two screens, 450 and 400 to rake, money for one: the one that saves more, by hand."""
    table = whole.table.set_index("id")
    saved = 20000.0 * (table["probability"] - table["probability_after_rake"])
    best = saved[["mill", "lane"]].idxmax()
    assert table["chosen"][best] == "rake"
    assert (table["chosen"] != "").sum() == 1
    assert whole.spending is not None
    assert whole.spending.benefit == pytest.approx(saved[best])
    assert np.all(table.loc[["ford", "sill"], "benefit_of_rake"].isna())


def test_the_page_stands_alone_with_its_cautions_and_no_verdict(folder: Path, whole: Whole) -> None:
    page = (folder / "out" / FILE).read_text(encoding="utf-8")
    assert "http" not in page.replace("http://www.w3.org", "")
    for words in ("Cautions", "a low rank is no statement that a structure is sound", "mill", 'id="search"', "<svg"):
        assert words in page
    for verdict in ("do not screen", "is safe", "should be screened"):
        assert verdict not in page.lower()
    manifest = json.loads((folder / "out" / "manifest.json").read_text(encoding="utf-8"))
    assert set(manifest["files"]) >= {"register.csv", "register.parquet", "faults.csv", FILE}
    assert whole.title == "A small register (invented)"


class _Dying(ThreadPoolExecutor):
    """Does so many pieces of work, then none."""

    def __init__(self, left: int) -> None:
        super().__init__(1)
        self.left = left

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.left -= 1
        if self.left < 0:
            raise KeyboardInterrupt
        return super().submit(fn, *args, **kwargs)


def _counting(done: list[int]) -> Callable[[parts.Task], parts.Part]:
    compute = parts.compute

    def counted(task: parts.Task) -> parts.Part:
        done.append(task.number)
        return compute(task)

    return counted


def test_a_stopped_run_goes_on_to_the_same_table(folder: Path, whole: Whole, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parts, "PART", 1)
    done: list[int] = []
    monkeypatch.setattr(parts, "compute", _counting(done))
    for left in (3, 1):
        executor: Executor = _Dying(left)
        with pytest.raises(KeyboardInterrupt):
            computed(folder, "stopped", executor)
    kept = len(list((folder / ".stopped.parts").glob("*.npz")))
    again = computed(folder, "stopped")
    assert 0 < kept < 5
    assert len(done) < 10
    pd.testing.assert_frame_equal(again.table, whole.table)
    assert not (folder / ".stopped.parts").exists()


def test_parts_of_another_table_are_not_used(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parts, "PART", 1)
    with pytest.raises(KeyboardInterrupt):
        computed(folder, "other", _Dying(2))
    file = folder / ".other.parts" / parts.HEAD
    file.write_text(json.dumps({"digest": "another"}), encoding="utf-8")
    done: list[int] = []
    monkeypatch.setattr(parts, "compute", _counting(done))
    computed(folder, "other")
    assert sorted(done) == [0, 1, 2, 3, 4]


def test_a_fault_of_the_program_in_one_row_costs_that_row_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    figures = parts.figures_of

    def failing(study: Any, points: Any) -> Any:
        if study.title.startswith("ford"):
            raise ValueError("out of range")
        return figures(study, points)

    monkeypatch.setattr(parts, "figures_of", failing)
    written(tmp_path)
    found = computed(tmp_path)
    assert [fault.id for fault in found.faults] == ["ford"]
    assert "ValueError: out of range" in found.faults[0].got
    assert len(found.table) == 3


def test_nothing_left_is_one_message(tmp_path: Path) -> None:
    written(tmp_path, "Asset,kind\na,culvert\nb,culvert\n")
    with pytest.raises(DomainError, match="none of 2"):
        computed(tmp_path)
    assert not (tmp_path / "out").exists()
