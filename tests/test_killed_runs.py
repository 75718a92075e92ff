"""A run killed at any moment: the results folder holds the old results or the new, whole, and never a mixture."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from forked import BEGIN
from overbank.files import folders
from overbank.files.owned import MARK
from small import edited, written

TRIALS = 50

KILL = (
    BEGIN
    + """
import json, random, signal, time
from pathlib import Path
import overbank.results, overbank.run, overbank.commands.terminal

one, other, trials = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
results, moments = one.parent / "results", random.Random(20261125)

def run(study):
    return begin("run", str(study), "--out", str(results))

def manifest():
    return json.loads((results / "manifest.json").read_text(encoding="utf-8"))

def state():
    listed = manifest()["files"]
    files = {str(path.relative_to(results)) for path in results.rglob("*") if path.is_file()}
    sums = {name: hash((results / name).read_bytes()) for name in listed if name.endswith((".csv", "summary.json"))}
    unfinished = any(path.name.startswith(".results.new-") for path in results.parent.iterdir())
    return {"study": manifest()["study_file"], "whole": files == set(listed), "sums": sums, "unfinished": unfinished}

start = time.monotonic()
whole = {}
for study in (one, other):
    assert os.waitpid(run(study), 0)[1] == 0
    whole[study.name] = state()["sums"]
longest = (time.monotonic() - start) / 2
told = []
for _ in range(trials):
    old = manifest()["study_file"]
    child = run(one if old == other.name else other)
    time.sleep(moments.uniform(0.0, 1.1 * longest))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    found = state()
    found["same"] = found.pop("sums") == whole[found["study"]]
    told.append({**found, "new": found["study"] != old})
print(json.dumps(told))
"""
)
"""Two studies run in turn into one folder, by the command itself in a process of its own, killed at a random moment."""


def killed(folder: Path, trials: int) -> list[dict[str, Any]]:
    """What each killed run left."""
    studies = []
    for number in (1, 2):
        text = edited(("samples = 4096", "samples = 256"), ("seed = 11", f"seed = {number}"))
        studies.append(written(folder, text).rename(folder / f"study{number}.toml"))
    command = [sys.executable, "-W", "ignore", "-c", KILL, *map(str, studies), str(trials)]
    environment = {**os.environ, "OVERBANK_THREADS": "1"}
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=environment)
    found: list[dict[str, Any]] = json.loads(done.stdout)
    return found


@pytest.mark.slow
def test_killed_at_any_moment(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = killed(tmp_path, TRIALS)
    assert len(found) == TRIALS
    assert all(trial["whole"] and trial["same"] for trial in found)
    new, unfinished = (sum(trial[what] for trial in found) for what in ("new", "unfinished"))
    assert new > 0, "no run came to its end: the test shows nothing of the exchange"
    assert unfinished > 0, "no kill fell into a run: the test shows nothing"
    with capsys.disabled():
        print(
            f"\n{TRIALS} kills: {TRIALS - new} left the old results, {new} the new; {unfinished} in the midst of a run"
        )
    with folders.fresh_folder(tmp_path / "results") as staging:
        (staging / MARK).write_text('{"written_by": "overbank 0", "files": ["manifest.json"]}', encoding="utf-8")
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]
