"""What floods in time cost beside steady runs: CPU seconds of the same study without and with its flood in time."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from benchmarks.table import Table
from overbank.outputs.outcome import Outcome
from overbank.run import run
from overbank.study.load import Study, read_study

pytestmark = pytest.mark.benchmark

STUDY = Path(__file__).parents[2] / "studies" / "debris-in-time"
POLICIES = "# --- who clears it"
DEBRIS = "# --- the debris that the flood brings"
NEXT = "# --- the stream below the lane"


def changed(folder: Path, samples: int, *, debris: bool, pool: bool = False) -> Study:
    """The study without its policies, with another number of samples, with and without what comes in time."""
    text = (STUDY / "study.toml").read_text(encoding="utf-8").split(POLICIES)[0]
    text = text.replace("samples    = 16384", f"samples    = {samples}")
    before, after = text.split(DEBRIS)[0], text[text.index(NEXT) :]
    if pool:
        after = f'[flow.pool]\ntable = "meadow.csv"\n\n{after}'
        (folder / "meadow.csv").write_text((STUDY / "meadow.csv").read_text(encoding="utf-8"), encoding="utf-8")
    middle = text[len(before) : text.index(NEXT)] if debris else ""
    (folder / "study.toml").write_text(before + middle + after, encoding="utf-8")
    return read_study(folder)


def spent(study: Study, *only: str) -> tuple[float, Outcome]:
    """CPU seconds of all cores."""
    begun = time.process_time()
    found = run(study, only=only or None)
    return time.process_time() - begun, found


def test_all_answers_within_twice_the_steady_run(tmp_path: Path, table: Table) -> None:
    spent(changed(tmp_path, 256, debris=True))  # compiled, or fetched from the disk
    steady, alone = spent(changed(tmp_path, 16384, debris=False))
    both, found = spent(changed(tmp_path, 16384, debris=True))
    assert alone.through_flood is None
    assert found.through_flood is not None
    table.share("a run of 16,384 samples, steady", steady, both)
    assert table.at_most("the same with its floods in time, against steady", both / steady, 2.0, "times")


def test_a_pool_within_three_minutes(tmp_path: Path, table: Table) -> None:
    seconds, found = spent(changed(tmp_path, 4096, debris=True, pool=True), "through_flood")
    assert found.through_flood is not None
    assert found.through_flood.stored is not None
    assert table.at_most("4,096 floods that fill a pool, on two cores", seconds / 2.0, 180.0, "s")
