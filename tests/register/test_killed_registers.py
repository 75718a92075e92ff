"""A register killed again and again on its way: it goes on from its parts, and ends with the same bytes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from forked import BEGIN
from registers import DEFAULTS, TABLE, written

KILLS = 20

KILL = (
    BEGIN
    + """
import json, multiprocessing, random, shutil, signal, time
from pathlib import Path
import overbank.register.results, overbank.register.page, overbank.commands.processes
from overbank.register import parts

table, once, out, kills = Path(sys.argv[1]), Path(sys.argv[2]), Path(sys.argv[3]), int(sys.argv[4])
kept, moments = out.parent / f".{out.name}.parts", random.Random(17)
parts.PART = 1
context = multiprocessing.get_context
multiprocessing.get_context = lambda _: context("fork")

def compute(folder):
    return begin("register", str(table), "--out", str(folder))

def tables(folder):
    return [(folder / name).read_bytes() for name in ("register.csv", "register.parquet", "register.html")]

def ended_well():
    assert tables(out) == tables(once)
    shutil.rmtree(out)

start = time.monotonic()
assert os.waitpid(compute(once), 0)[1] == 0
longest = time.monotonic() - start
fell, ends, midway = 0, 0, 0
while fell < kills:
    child = compute(out)
    time.sleep(moments.uniform(0.1, 0.6) * longest)
    os.kill(child, signal.SIGKILL)
    if os.waitpid(child, 0)[1] == 0:
        ends += 1
        ended_well()
    else:
        fell += 1
        midway += any(kept.glob("*.npz"))
assert os.waitpid(compute(out), 0)[1] == 0
ended_well()
print(json.dumps([ends + 1, midway]))
"""
)
"""The command itself, forked where all is loaded, a row a part, so that a kill falls between many of them."""


def many(rows: int) -> str:
    """The small register with its first structure again and again, each under a name and with a flow of its own."""
    head, *given = TABLE.splitlines()
    more = [f"mill {n},,culvert,wooded,north,1800,12.0,{2.0 + 0.05 * n:.2f},2.6,,450" for n in range(rows)]
    return "\n".join([head, *given, *more, ""])


@pytest.mark.slow
def test_twenty_kills_of_a_register(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = written(tmp_path, many(40), DEFAULTS.replace("samples = 512", "samples = 64"))
    places = [str(each) for each in (file, tmp_path / "once", tmp_path / "out")]
    command = [sys.executable, "-W", "ignore", "-c", KILL, *places, str(KILLS)]
    environment = {**os.environ, "OVERBANK_THREADS": "1"}
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=environment)
    ends, midway = json.loads(done.stdout)
    assert midway > 0, "no kill fell between parts: the test shows nothing"
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []
    with capsys.disabled():
        print(f"\n{KILLS} kills, {midway} with parts kept; {ends} runs to the end, with the bytes of one not killed")
