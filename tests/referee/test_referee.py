"""Random studies: every headline figure of the program beside the referee's. Twelve always, two hundred on demand."""

from __future__ import annotations

from pathlib import Path

import pytest

from referee.generator import KINDS, study
from referee.judging import HEADER
from referee.referee import FULL, QUICK, compared

FEW, MANY = 12, 200


@pytest.mark.parametrize("seed", range(FEW))
def test_figures_of_a_random_study(seed: int, tmp_path: Path) -> None:
    lines = compared(study(seed, samples=1024), tmp_path, QUICK)
    wrong = [line.words for line in lines if not line.agrees]
    assert not wrong, "\n".join([HEADER, *wrong])


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(MANY))
def test_figures_of_many_random_studies(seed: int, tmp_path: Path) -> None:
    lines = compared(study(seed, samples=16384), tmp_path, FULL)
    print("\n".join(line.words for line in lines))
    wrong = [line.words for line in lines if not line.agrees]
    assert not wrong, "\n".join([HEADER, *wrong])


def test_every_kind_is_among_the_few() -> None:
    assert {study(seed, samples=64).name.split(" ", 1)[1] for seed in range(FEW)} == {kind.__name__ for kind in KINDS}
