"""Signals at random moments of every command: it ends at once and in one line, the old results or the new stand whole.

A process that has the program loaded forks the command, so that a moment falls into its work and not into its imports.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from small import edited, written
from trials import LOST, left_lying, whole

pytestmark = pytest.mark.slow

FEW = ("samples = 4096\nreplicates = 8", "samples = 256\nreplicates = 8")
WIDER = '\n[[alternative]]\nname = "wide"\nset = { "lane.screen.gap_m" = 0.15 }\n'
LINE = "Stopped; earlier results are untouched."

SIGNS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGKILL)
ENDS_WITHIN = 30.0
"""A command that was told to end has ended after so long [s]; half a second on an idle machine."""

FORK = """
import json, os, random, signal, sys, time
import overbank.results, overbank.run, overbank.commands.terminal, overbank.report.word, overbank.commands.many
from overbank.commands.cli import main

words, out, trials, signs, patience = json.loads(sys.argv[1])
moments = random.Random(20261130)

def begin():
    child = os.fork()
    if child == 0:
        os.setsid()
        for sign in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(sign, signal.SIG_DFL)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        for number, name in ((1, "out"), (2, "err")):
            os.dup2(os.open(f"{out}.{name}", os.O_WRONLY | os.O_CREAT | os.O_TRUNC), number)
        sys.argv = ["overbank", *words]
        try:
            main()
        except SystemExit as end:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(int(end.code or 0))
        os._exit(0)
    return child

def ended(child):
    until = time.monotonic() + patience
    while time.monotonic() < until:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.01)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None

def others(group):
    until = time.monotonic() + 5.0
    while time.monotonic() < until:
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return False
        time.sleep(0.02)
    return True

start = time.monotonic()
first = ended(begin())
longest = time.monotonic() - start
for number in range(trials):
    child = begin()
    time.sleep(moments.uniform(0.0, 1.05 * longest))
    sign = signs[number % len(signs)]
    os.kill(child, sign)
    start = time.monotonic()
    status = ended(child)
    took = time.monotonic() - start
    found = {"first": first, "sign": sign, "status": status, "took": took, "others": others(child)}
    print(json.dumps(found), flush=True)
    sys.stdin.readline()
"""
"""A command given a signal at random moments; after each trial it waits for a line, while its folder is looked at."""


def trials(folder: Path, words: list[str], count: int, look: Any) -> Counter[str]:
    """How each trial ended; `look` looks at the folder after each.

    What a SIGKILL left lies there until a command gets so far as to write: one that is stopped before leaves it.
    """
    out, temporary = folder / "said", folder.parent / "temporary"
    temporary.mkdir()
    environment = {**os.environ, "OVERBANK_THREADS": "1", "TMPDIR": str(temporary)}
    told = json.dumps([words, str(out), count, list(map(int, SIGNS)), ENDS_WITHIN])
    command = [sys.executable, "-W", "ignore", "-c", FORK, told]
    ends = Counter[str]()
    killed: set[str] = set()
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        for line in process.stdout:
            found = json.loads(line)
            err = Path(f"{out}.err").read_text(encoding="utf-8")
            assert found["first"] == 0, err
            assert found["status"] in (0, -signal.SIGKILL, 128 + found["sign"]), (found, err)
            assert not LOST.search(err), err
            assert not found["others"], "a process has outlived its command"
            if found["status"] > 0:
                assert err.splitlines()[-1] == LINE
            if found["status"] >= 0:
                assert list(temporary.iterdir()) == []
                assert set(left_lying(folder)) <= (killed if found["status"] else set())
            killed = set(left_lying(folder))
            look(found["status"])
            name = signal.Signals(found["sign"]).name
            ends[f"{name}: {'ended by it' if found['status'] else 'had come to its end'}"] += 1
            for left in temporary.iterdir():
                shutil.rmtree(left) if left.is_dir() else left.unlink()
            process.stdin.write("\n")
            process.stdin.flush()
    assert process.returncode == 0
    assert ends.total() == count
    return ends


def told(capsys: pytest.CaptureFixture[str], what: str, ends: Counter[str]) -> None:
    with capsys.disabled():
        print(f"\n{what}: {ends.total()} signals; {', '.join(f'{n} {end}' for end, n in sorted(ends.items()))}")
    assert any("ended by it" in end for end in ends), "no signal fell into the command: the test shows nothing"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "trial"
    written(made, edited(FEW) + WIDER)
    return made


def test_run(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def look(_status: int) -> None:
        assert whole(folder / "results")

    told(capsys, "run", trials(folder, ["run", str(folder / "study.toml")], 28, look))


def test_run_of_a_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The first run ends; before each later one a study is changed, so that one is run and one stands."""
    many = tmp_path / "trial"
    for name in ("one", "two"):
        written(many / name, edited(FEW))

    def look(status: int) -> None:
        for name in ("one", "two"):
            assert whole(many / "results" / name)
            assert status < 0 or left_lying(many / "results") == []
        seed = int(look.__dict__.setdefault("seed", 0)) + 1
        look.__dict__["seed"] = seed
        written(many / "one", edited(FEW, ("seed = 11", f"seed = {100 + seed}")))

    told(capsys, "run of a folder", trials(many, ["run", str(many)], 12, look))


def test_check(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = (folder / "study.toml").read_bytes()

    def look(_status: int) -> None:
        assert (folder / "study.toml").read_bytes() == before

    words = ["check", str(folder / "study.toml"), "--picture", str(folder / "section.png")]
    told(capsys, "check", trials(folder, words, 28, look))


def test_report(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from overbank.results import write_results
    from overbank.run import run
    from overbank.study.load import read_study

    write_results(run(read_study(folder / "study.toml")), folder / "results")

    def look(status: int) -> None:
        assert status < 0 or whole(folder / "results")

    told(capsys, "report", trials(folder, ["report", str(folder / "results"), "--docx"], 28, look))


def test_compare(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def look(_status: int) -> None:
        assert {path.name for path in folder.iterdir()} == {"study.toml", "said.out", "said.err"}

    told(capsys, "compare", trials(folder, ["compare", str(folder / "study.toml")], 28, look))


def test_sweep(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def look(_status: int) -> None:
        assert {path.name for path in folder.iterdir()} <= {"study.toml", "said.out", "said.err", "sweep.csv"}

    words = [
        "sweep",
        str(folder / "study.toml"),
        "lane.screen.gap_m",
        "0.1,0.15,0.2",
        "--out",
        str(folder / "sweep.csv"),
    ]
    told(capsys, "sweep", trials(folder, words, 28, look))
