"""What floods in time cost beside steady runs, by the clock: the same study without its hydrograph and with it."""

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
SHAPE, NEXT = "[flow.hydrograph]", "# --- the stream below the lane"
POLICIES, RAKED, MEADOW = (f'[[alternative]]\nname = "{name}' for name in ("crew", "raked", "the meadow"))
CREW = """[flow.crew]
call_level_m = 31.50
travel_hours = { lognormal = { median = 1.0, cov = 0.3 } }
clears_per_hour = 0.25
not_above_m = 32.30
fails_to_come = 0.15

"""


def changed(folder: Path, samples: int, *, in_time: bool, pool: bool = False) -> Study:
    """The study without its meadow, in time with a crew of its own besides the policies, or steady without all that
    needs a hydrograph; or with a pool and no policies."""
    text = (STUDY / "study.toml").read_text(encoding="utf-8")
    text = text.replace("samples    = 16384", f"samples    = {samples}").split(MEADOW)[0]
    text = text.replace(NEXT, CREW + NEXT)
    if not in_time:
        text = text[: text.index(SHAPE)] + text[text.index(NEXT) : text.index(POLICIES)] + text[text.index(RAKED) :]
    if pool:
        text = text.split(POLICIES)[0].replace(NEXT, f'[flow.pool]\ntable = "meadow.csv"\n\n{NEXT}')
        (folder / "meadow.csv").write_text((STUDY / "meadow.csv").read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return read_study(folder)


def timed(study: Study) -> tuple[float, Outcome]:
    """Seconds by the clock of a run in full."""
    begun = time.perf_counter()
    found = run(study)
    return time.perf_counter() - begun, found


def test_all_answers_within_twice_the_steady_run(tmp_path: Path, table: Table) -> None:
    """The better of two rounds of each, in turn, for both must meet the machine alike."""
    timed(changed(tmp_path, 256, in_time=True))  # compiled, or fetched from the disk
    rounds = [[timed(changed(tmp_path, 16384, in_time=way)) for way in (False, True)] for _ in range(2)]
    (steady, alone), (both, found) = (min(each, key=lambda one: one[0]) for each in zip(*rounds, strict=True))
    assert alone.through_flood is None
    assert alone.over_capacity is None
    assert found.through_flood is not None
    assert found.through_flood.crew is not None
    assert found.through_flood.warned is not None
    assert len(found.through_flood.policies) == 4
    table.share("a run of 16,384 samples, steady", steady, both)
    words = "the same with its floods in time, a crew and policies, against steady"
    assert table.at_most(words, both / steady, 2.0, "times")


def test_a_pool_within_three_minutes(tmp_path: Path, table: Table) -> None:
    seconds, found = timed(changed(tmp_path, 4096, in_time=True, pool=True))
    assert found.through_flood is not None
    assert found.through_flood.crew is not None
    assert found.through_flood.stored is not None
    assert table.at_most("a run of 4,096 samples whose floods fill a pool", seconds, 180.0, "s")
