"""The table of random studies: figures of the program beside the referee's, kept as one CSV file.

    python -m referee.table 0 200

from the folder of the tests runs the studies of seeds 0 to 199 and puts their lines in the place of older ones.
"""

from __future__ import annotations

import csv
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from referee.generator import study
from referee.judging import Judged
from referee.referee import FULL, compared

TABLE = Path(__file__).with_name("table.csv")

SAMPLES = 4096
"""Samples of the program in every study."""

HEAD = ("study", "figure", "program", "low", "high", "referee", "error_below", "error_above", "joint_errors", "inside")


def lines_of(seed: int) -> list[Judged]:
    """Every figure of the study of a seed."""
    with tempfile.TemporaryDirectory() as folder:
        return compared(study(seed, samples=SAMPLES), Path(folder), FULL)


def row(line: Judged) -> dict[str, str]:
    """A line of the file."""
    said, truth = line.said, line.truth
    numbers = (said.value, said.low, said.high, truth.value, truth.below, truth.above, line.z)
    shown = (line.study, line.figure, *(f"{number:.6g}" for number in numbers), "yes" if line.inside else "no")
    return dict(zip(HEAD, shown, strict=True))


def stored() -> list[dict[str, str]]:
    """What the file holds."""
    if not TABLE.exists():
        return []
    with TABLE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def store(lines: Sequence[Judged]) -> None:
    """Put the lines of a study in the place of its older ones."""
    rows = [each for each in stored() if each["study"] != lines[0].study] + [row(line) for line in lines]
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, HEAD, lineterminator="\n")
        writer.writeheader()
        writer.writerows(sorted(rows, key=lambda each: each["study"]))


def main(first: int, beyond: int) -> None:
    """Run the studies of these seeds; print what is wrong as soon as it is found."""
    for seed in range(first, beyond):
        lines = lines_of(seed)
        store(lines)
        print(f"{lines[0].study}: {len(lines)} figures, {sum(not line.agrees for line in lines)} wrong", flush=True)
        for line in lines:
            if not line.agrees:
                print(line.words, flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
