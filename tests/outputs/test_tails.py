"""The answers with tails of a dependence, beside those of the same ranks jointly normal."""

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.run import run
from small import DEPENDENCE, study

TAILED = f'{DEPENDENCE}tails = "survival_clayton"\n'


def test_tails_move_the_answer_and_the_normal_one_is_that_of_the_study_without(tmp_path: Path) -> None:
    fewer = ("samples = 4096", "samples = 1024")
    tailed = run(study(tmp_path / "tailed", fewer, (DEPENDENCE, TAILED)), only=("tails",))
    plain = run(study(tmp_path / "plain", fewer), only=("overtopping", "tails"))
    assert plain.tails is None
    assert tailed.tails is not None
    # the same run by another way: the study written without tails
    assert tailed.tails.normal.overtopping == plain.overtopping.best
    assert tailed.tails.stated.overtopping == tailed.overtopping.best
    assert tailed.tails.stated.overtopping.value != pytest.approx(plain.overtopping.best.value, rel=1e-3)
    assert tailed.tails.normal.in_a_year is None
