"""How often a printed 95 % interval holds what is right, over the seeds of the run: about the truth, by closed forms.

Counted for every figure of studies whose truth has no error of its own. A figure fails when so few, or so many, of its
intervals hold the truth that a coverage from 0.90 to 0.99 could hardly have given it.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import pytest
from scipy import stats

from referee.bare_sites import Directed
from referee.case import Case
from referee.directed_water import between_two_shares, no_way_through
from referee.directed_years import debris_anew
from referee.judging import judged
from referee.results_adapter import results
from referee.site_adapter import SiteFunction

STUDIES = (
    debris_anew(4096),
    between_two_shares("coverage between two shares", (4.4, 0.12), 31.95, 0.3, 0.9),
    no_way_through(),
)

LEAST, MOST, UNLIKELY = 0.90, 0.99, 1e-3


def counted(directed: Directed, seeds: range, folder: Path) -> dict[str, list[bool]]:
    """For every figure, whether each seed's interval holds the truth."""
    truth = directed.truth(directed.case, SiteFunction(directed.case.written(folder)))
    found: dict[str, list[bool]] = defaultdict(list)
    for seed in seeds:
        text = directed.case.text.replace("seed = 3\n", f"seed = {seed}\n")
        said = results(Case(directed.case.name, text, directed.case.files).written(folder)).figures
        for name, right in truth.items():
            line = judged(directed.case.name, name, said[name], right)
            found[name].append(line.inside)
    return found


def unlikely(held: list[bool]) -> str:
    """Words where no coverage between the limits could well have given so many; else empty."""
    count, inside = len(held), sum(held)
    few = float(stats.binom.cdf(inside, count, LEAST)) < UNLIKELY
    many = float(stats.binom.sf(inside - 1, count, MOST)) < UNLIKELY
    return f"{inside} of {count}" if few or many else ""


@pytest.mark.slow
@pytest.mark.parametrize("directed", STUDIES, ids=lambda each: each.case.name)
def test_every_interval_holds_the_truth_as_often_as_it_says(directed: Directed, tmp_path: Path) -> None:
    found = counted(directed, range(100, 200), tmp_path)
    wrong = {name: words for name, held in found.items() if (words := unlikely(held))}
    assert not wrong


def test_intervals_hold_the_truth_in_a_few_runs(tmp_path: Path) -> None:
    directed = no_way_through()
    small = Directed(4, Case("few", directed.case.text.replace("samples = 4096", "samples = 512"), {}), directed.truth)
    found = counted(small, range(1, 7), tmp_path)
    wrong = {name: words for name, held in found.items() if (words := unlikely(held))}
    assert not wrong


def test_what_is_unlikely() -> None:
    assert not unlikely([True] * 95 + [False] * 5)
    assert unlikely([True] * 75 + [False] * 25)
    assert not unlikely([True] * 100)
    assert unlikely([False] * 4)
