"""A disk that is full, or fills at a random moment of a command: one line, the old results whole, nothing left lying.

The disk is a small one in memory, which only an administrator may mount; another process fills it.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from small import edited, written
from trials import COMMAND, Ended, in_words, left_lying, whole

pytestmark = pytest.mark.slow

SIZE = 40 * 2**20
"""Of the disk [bytes]: twice what results must find free."""

FEW = edited(("samples = 4096\nreplicates = 8", "samples = 64\nreplicates = 2"))
OTHER = FEW.replace("seed = 11", "seed = 12")


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    place = tmp_path / "disk"
    place.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", str(place)], check=True)
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


def fill(disk: Path) -> None:
    """Take every byte that is left."""
    with (disk / "filler").open("ab", buffering=0) as file:
        while True:
            try:
                file.write(bytes(4096))
            except OSError:
                return


def filled_after(seconds: float, disk: Path, *words: str) -> Ended:
    """A command, and a disk that is filled while it goes on, again and again."""
    temporary = disk / "temporary"
    temporary.mkdir(exist_ok=True)
    environment = {**os.environ, "TMPDIR": str(temporary)}
    start = time.monotonic()
    with subprocess.Popen(
        [*COMMAND, *words], env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        while process.poll() is None and time.monotonic() - start < 100.0:
            if time.monotonic() - start >= seconds:
                fill(disk)
            time.sleep(0.005)
        process.kill()
        found = Ended(process.returncode, *process.communicate())
    (disk / "filler").unlink(missing_ok=True)
    assert list(temporary.iterdir()) == []
    in_words(found)
    return found


def moments(count: int, longest: float) -> list[float]:
    """At once, and at random, more of them near the end, where the writing is."""
    chance = random.Random(20261130)
    return [0.0, *(longest * chance.betavariate(3.0, 1.0) for _ in range(count - 1))]


def told(capsys: pytest.CaptureFixture[str], what: str, found: list[Ended]) -> None:
    full = [each for each in found if each.status]
    with capsys.disabled():
        print(f"\n{what}: {len(found)} full disks, {len(full)} told, {len(found) - len(full)} after the end")
    assert full, "no disk was full in time: the test shows nothing"
    assert all("No space left on device" in each.err for each in full), [each.err for each in full]


def took(*words: str) -> float:
    start = time.monotonic()
    subprocess.run([*COMMAND, *words], capture_output=True, check=True)
    return time.monotonic() - start


def test_run(disk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    study = written(disk, FEW)
    longest, found = took("run", str(study)), []
    for number, moment in enumerate(moments(16, longest)):
        study.write_text(OTHER if number % 2 else FEW, encoding="utf-8")
        found.append(filled_after(moment, disk, "run", str(study)))
        assert whole(disk / "results")
        assert left_lying(disk) == []
    told(capsys, "run", found)


def test_run_of_a_folder(disk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("one", "two"):
        written(disk / "many" / name, FEW)
    results = disk / "many" / "results"
    longest, found = took("run", str(disk / "many")), []
    for number, moment in enumerate(moments(8, longest)):
        for name in ("one", "two"):
            written(disk / "many" / name, FEW if number % 2 else OTHER)
        found.append(filled_after(moment, disk, "run", str(disk / "many")))
        assert all(whole(results / name) for name in ("one", "two"))
        assert (results / "studies.csv").read_text(encoding="utf-8").startswith("study,title,")
        assert [*left_lying(results), *left_lying(disk / "many")] == []
    told(capsys, "run of a folder", found)


def test_check_with_a_picture(disk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ("check", str(written(disk, FEW)), "--picture", str(disk / "section.png"))
    longest, found = took(*words), []
    drawn = (disk / "section.png").read_bytes()
    for moment in moments(12, longest):
        found.append(filled_after(moment, disk, *words))
        assert (disk / "section.png").read_bytes() == drawn
        assert left_lying(disk) == []
    told(capsys, "check", found)


def test_report(disk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    took("run", str(written(disk, FEW)))
    words = ("report", str(disk / "results"), "--docx")
    longest, found = took(*words), []
    for moment in moments(12, longest):
        found.append(filled_after(moment, disk, *words))
        assert whole(disk / "results")
        assert left_lying(disk) == []
    told(capsys, "report", found)


def test_new_and_sweep(disk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    study, found = written(disk, FEW), []
    for moment in moments(6, took("new", str(disk / "first"))):
        found.append(filled_after(moment, disk, "new", str(disk / "mine")))
        assert found[-1].status == 0 or not (disk / "mine" / "study.toml").exists()
        shutil.rmtree(disk / "mine", ignore_errors=True)
    table = disk / "sweep.csv"
    words = ("sweep", str(study), "lane.screen.gap_m", "0.1,0.2", "--quick", "--out", str(table))
    longest = took(*words)
    before = table.read_bytes()
    for moment in moments(8, longest):
        found.append(filled_after(moment, disk, *words))
        assert table.read_bytes() == before
    told(capsys, "new and sweep", found)
