"""As many samples as the precision needs, in a whole run."""

from __future__ import annotations

from pathlib import Path

import pytest
from scipy.stats import norm

from overbank.run import compare_arrangements, run
from pond import BANK, LEVEL, LEVEL_SD, pond

NAME = "level not exceeded with probability 0.9"


def automatic(precision: float, most: int) -> tuple[str, str]:
    return "samples = 8192", f'samples = "auto"\nprecision_m = {precision}\nmost_samples = {most}'


def test_the_precision_is_met_and_the_figure_is_right(tmp_path: Path) -> None:
    said: list[str] = []
    outcome = run(pond(tmp_path, automatic(0.001, 65536)), said.append, only=("automatic", "headwater", "overtopping"))
    search = outcome.automatic
    assert search is not None
    assert search.met
    tried = [step.samples for step in search.steps]
    assert tried == [2048 * 2**k for k in range(len(tried))]
    assert [f"trying {samples:,} samples" for samples in tried] == said[: len(tried)]
    level = outcome.headwater.quantiles[0.9]
    assert 0.5 * (level.high - level.low) <= 0.001
    assert level.value == pytest.approx(LEVEL + LEVEL_SD * norm.ppf(0.9), abs=0.002)
    best = outcome.overtopping.best
    assert 0.5 * (best.high - best.low) <= 0.1 * best.value
    assert best.value == pytest.approx(norm.sf((BANK - LEVEL) / LEVEL_SD), abs=0.005)
    assert outcome.study.content.run.samples == search.samples == outcome.samples.levels.size


def test_an_earlier_step_was_not_enough(tmp_path: Path) -> None:
    """The first number is never taken without one twice as large to hold it against."""
    search = run(pond(tmp_path, automatic(0.5, 65536)), only=("automatic",)).automatic
    assert search is not None
    assert [step.samples for step in search.steps] == [2048, 4096]


def test_the_run_is_that_of_the_number_it_came_to(tmp_path: Path) -> None:
    only = ("automatic", "headwater", "overtopping")
    chosen = run(pond(tmp_path, automatic(0.01, 65536)), only=only)
    assert chosen.automatic is not None
    plain = run(pond(tmp_path, ("samples = 8192", f"samples = {chosen.automatic.samples}")), only=only)
    assert chosen.overtopping.best == plain.overtopping.best
    assert chosen.headwater.quantiles == plain.headwater.quantiles
    assert plain.automatic is None
    assert chosen.runs > plain.runs


def test_a_precision_out_of_reach_is_told(tmp_path: Path) -> None:
    search = run(pond(tmp_path, automatic(1e-9, 4096)), only=("automatic",)).automatic
    assert search is not None
    assert not search.met
    assert search.samples == 4096
    assert search.words.startswith("Even 4096 samples do not give the precision asked for")
    assert NAME in search.words


def test_alternatives_take_the_same_samples(tmp_path: Path) -> None:
    higher = '\n[[alternative]]\nname = "a higher bank"\nset = { "pond.bank_level_m" = 10.7 }\n'
    found = compare_arrangements(pond(tmp_path, automatic(0.5, 65536), more=higher))
    assert [each.overtopping.plain.samples for each in found.arrangements] == [4096, 4096]
