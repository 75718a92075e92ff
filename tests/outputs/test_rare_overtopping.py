"""Overtopping beyond what the samples show: against a large independent count, and exact by the ranges."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from overbank.commands.terminal import _how
from overbank.model import Model
from overbank.outputs.registry import HEADLINES
from overbank.report.answer import answer
from overbank.report.tables import key_figures
from overbank.run import run
from overbank.words import rounded
from small import BLOCKAGE, DEPENDENCE, FLOW, study

BANK = "bank_level_m = { normal = { mean = 32.2, sd = 0.05 } }"
TAILWATER = 'level_m = { normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }'
BOUNDED = (
    (DEPENDENCE, ""),
    (FLOW, "design_m3_s = { uniform = { low = 5.0, high = 7.0 } }"),
    (TAILWATER, "level_m = { uniform = { low = 30.9, high = 31.1 } }"),
    ('{ lognormal = { median = 0.05, cov = 0.2 }, basis = "invented" }', "0.05"),
    (BLOCKAGE, "blockage = { uniform = { low = 0.0, high = 0.6 } }"),
)


def test_a_rare_event_agrees_with_a_large_independent_count(tmp_path: Path) -> None:
    """About 9e-4, with a stated dependence; a quarter of a million plain samples have a standard error of 7 %."""
    rare = study(tmp_path, (BANK, "bank_level_m = { normal = { mean = 33.0, sd = 0.05 } }"), ("4096", "1024"))
    found = run(rare, only=("convergence", *HEADLINES))
    over = found.overtopping
    assert over.beyond is not None
    assert over.best is over.beyond
    assert "importance sampling" in over.beyond.method
    assert _how(over).startswith(f"Found beyond the samples: {over.beyond.method}. A plain count of the samples gives ")
    quoted = key_figures(found)[0].figures[0]
    assert (quoted.label, quoted.value) == ("the one to quote", rounded(over.beyond, "p").value)
    assert "probability of overtopping" not in found.convergence  # it has measures of its own
    model = Model(found.problem)
    count, events = 2**17, 0
    for seed in range(2):
        _, values = found.problem.inputs.sample("monte_carlo", count, 70 + seed, 1)
        events += int(np.count_nonzero(model.levels(values[0]) > model.banks(values[0])))
    counted = events / (2 * count)
    assert 5e-4 < counted < 2e-3
    spread = 4.0 * math.sqrt(counted / (2 * count))
    assert abs(over.best.value - counted) < spread + (over.best.high - over.best.low)
    assert over.best.high - over.best.low < 0.5 * over.best.value


@pytest.mark.parametrize(("bank", "value", "word"), [(36.0, 0.0, "impossible"), (30.9, 1.0, "certain")])
def test_impossible_and_certain_by_the_ranges(tmp_path: Path, bank: float, value: float, word: str) -> None:
    ranges = f"bank_level_m = {{ uniform = {{ low = {bank - 0.1}, high = {bank + 0.1} }} }}"
    found = run(study(tmp_path, (BANK, ranges), ("4096", "256"), *BOUNDED), only=HEADLINES)
    best = found.overtopping.best
    assert (best.value, best.low, best.high) == (value, value, value)
    assert best.note.startswith(f"{word} within the stated ranges")
    said = "cannot go" if value == 0.0 else "must go"
    assert f"{said} over the bank, whatever the numbers within their stated ranges: that is <strong>{word}" in answer(
        found
    )
    assert rounded(best, "p") == (f"{100 * value:.0f}\u00a0%", "exactly")


def test_unbounded_inputs_leave_the_one_sided_limit(tmp_path: Path) -> None:
    found = run(study(tmp_path, (BANK, "bank_level_m = 60.0"), ("4096", "256")), only=("overtopping",))
    best = found.overtopping.best
    assert best.value == 0.0
    assert best.high > 0.0
