"""How often a printed 95 % interval holds what is right, over the seeds of the run: about the truth, by closed forms.

    python -m referee.coverage 1024 60

from the folder of the tests counts sixty seeds of every study with 1024 samples, and stores how often each figure's
interval held the truth. The studies are those whose truth has no error of its own.
"""

from __future__ import annotations

import csv
import sys
import tempfile
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from scipy import stats

from referee.bare_sites import Directed
from referee.case import Case
from referee.directed_water import between_two_shares, no_way_through
from referee.directed_years import debris_anew, known_and_anew
from referee.judging import judged
from referee.results_adapter import results
from referee.site_adapter import SiteFunction

SAMPLES = 4096
"""Samples that the texts of the studies ask for."""

SIZES = (1024, SAMPLES)

TABLE = Path(__file__).with_name("coverage.csv")

LEAST, MOST, UNLIKELY = 0.90, 0.99, 1e-3

HEAD = ("study", "samples", "figure", "seeds", "held")

FIRST_SEED = 100


@dataclass(frozen=True)
class Covered:
    """A study and the outputs in which its figures stand."""

    directed: Directed
    outputs: tuple[str, ...]


OF_A_FLOOD, OF_A_YEAR = ("headwater", "overtopping", "blockage"), ("annual",)

STUDIES = (
    Covered(debris_anew(SAMPLES), OF_A_YEAR),
    Covered(known_and_anew(SAMPLES), OF_A_YEAR),
    Covered(between_two_shares("between two shares", (4.4, 0.12), 31.95, 0.3, 0.9), OF_A_FLOOD),
    Covered(no_way_through(), OF_A_FLOOD),
)


def counted(covered: Covered, samples: int, seeds: range, folder: Path) -> dict[str, list[bool]]:
    """For every figure, whether each seed's interval holds the truth."""
    case = covered.directed.case
    truth = covered.directed.truth(case, SiteFunction(case.written(folder)))
    found: dict[str, list[bool]] = defaultdict(list)
    for seed in seeds:
        text = case.text.replace("seed = 3\n", f"seed = {seed}\n")
        text = text.replace(f"samples = {SAMPLES}\n", f"samples = {samples}\n")
        said = results(Case(case.name, text, case.files).written(folder), covered.outputs).figures
        for name, right in truth.items():
            found[name].append(judged(case.name, name, said[name], right).inside)
    return found


def unlikely(held: list[bool]) -> str:
    """Words where no coverage between the limits could well have given so few; else empty.

    All of them may hold: an interval that allows for what is not known of its own error holds the truth more often.
    """
    count, inside = len(held), sum(held)
    few = float(stats.binom.cdf(inside, count, LEAST)) < UNLIKELY
    many = float(stats.binom.sf(inside - 1, count, MOST)) < UNLIKELY
    return f"{inside} of {count}" if few or many else ""


def stored() -> list[dict[str, str]]:
    """What the file holds."""
    if not TABLE.exists():
        return []
    with TABLE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def store(study: str, samples: int, found: dict[str, list[bool]]) -> None:
    """Put the lines of a study and size in the place of its older ones."""
    kept = [each for each in stored() if (each["study"], each["samples"]) != (study, str(samples))]
    for figure, held in found.items():
        line = (study, str(samples), figure, str(len(held)), str(sum(held)))
        kept.append(dict(zip(HEAD, line, strict=True)))
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, HEAD, lineterminator="\n")
        writer.writeheader()
        writer.writerows(sorted(kept, key=lambda each: (each["study"], int(each["samples"]))))


def main(samples: int, seeds: int) -> None:
    """Count every study and store the table."""
    for covered in STUDIES:
        with tempfile.TemporaryDirectory() as folder:
            found = counted(covered, samples, range(FIRST_SEED, FIRST_SEED + seeds), Path(folder))
        store(covered.directed.case.name, samples, found)
        print(covered.directed.case.name, samples, {name: sum(held) for name, held in found.items()}, flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
