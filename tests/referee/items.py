"""The table of the directed studies: each figure as it was, as the program says it now, and what is right.

    python -m referee.items

from the folder of the tests runs them all and stores the table. What the program said before stands in `before.csv`,
with the commit at which this referee found it; "not told" and "refused" are among its words.
"""

from __future__ import annotations

import csv
import re
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from referee.bare_sites import Directed
from referee.directed import ALL
from referee.judging import Judged, judged
from referee.results_adapter import HEADLINES, results
from referee.site_adapter import SiteFunction

TABLE, BEFORE = (Path(__file__).with_name(name) for name in ("items.csv", "before.csv"))

HEAD = ("item", "study", "samples", "figure", "program", "low", "high", "right", "error", "joint_errors")

REFUSED = "the whole study"
"""Stands for every figure of a study that was refused."""


def samples_of(directed: Directed) -> str:
    """Samples that a study asks for."""
    found = re.search(r"^samples = (\d+)$", directed.case.text, re.MULTILINE)
    assert found is not None
    return found.group(1)


def lines_of(directed: Directed, folder: Path) -> list[Judged]:
    """Every figure of a directed study beside what is right."""
    directed.case.written(folder)
    truth = directed.truth(directed.case, SiteFunction(folder))
    driven = any(name.startswith("event") for name in truth)
    said = results(folder, (*HEADLINES, "drivers") if driven else HEADLINES).figures
    return [judged(directed.case.name, name, said[name], each) for name, each in truth.items()]


def rows() -> Iterator[tuple[str, ...]]:
    """The table, line by line."""
    for directed in ALL:
        with tempfile.TemporaryDirectory() as folder:
            for line in lines_of(directed, Path(folder)):
                said, right = line.said, line.truth
                numbers = (said.value, said.low, said.high, right.value, max(right.below, right.above), line.z)
                shown = (f"{number:.6g}" for number in numbers)
                yield str(directed.item), directed.case.name, samples_of(directed), line.figure, *shown


def stored() -> list[dict[str, str]]:
    """The table as it is stored, each line with what the program said before, where it was wrong."""
    with BEFORE.open(encoding="utf-8", newline="") as file:
        said = {(each["study"], each["samples"], each["figure"]): each["before"] for each in csv.DictReader(file)}
    with TABLE.open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file))
    for each in found:
        study = each["study"], each["samples"]
        each["before"] = said.get((*study, each["figure"]), said.get((*study, REFUSED), ""))
    return found


def main() -> None:
    """Run all and store the table."""
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(HEAD)
        for row in rows():
            writer.writerow(row)
            print(*row, file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
