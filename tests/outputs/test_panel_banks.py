"""Bank levels that a reader may set: few, fine, and around the bank, however high the water stands."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from overbank.outputs.panel import MOST, REACH, STEPS, _banks


def at(bank: float) -> Any:
    """What a sampling tells of a bank."""
    return SimpleNamespace(model=SimpleNamespace(bank_at_medians=bank))


@pytest.mark.parametrize("bank", [32.2, -3.0, 1031.0])
@pytest.mark.parametrize("spread", [0.0, 0.3, 4.0, 12.0, 230.0, 6500.0, 1e12])
def test_levels_are_few_and_fine_and_hold_the_bank(bank: float, spread: float) -> None:
    """A shut barrel raises the water by hundreds of metres; a flow in litres by thousands."""
    banks, start = _banks(at(bank), 31.0 + spread * np.linspace(0.0, 1.0, 1000))
    steps = np.diff(banks)
    assert banks[start] == bank
    assert len(banks) <= MOST
    assert STEPS[0] - 1e-9 < steps.min() <= steps.max() < STEPS[-1] + 1e-9
    assert banks[0] <= bank - 0.5
    assert banks[-1] >= bank + 0.5
    assert np.abs(banks - bank).max() <= REACH + STEPS[-1]


def test_levels_that_lie_near_the_bank_are_all_covered() -> None:
    banks, _ = _banks(at(32.0), np.linspace(30.5, 33.5, 1000))
    assert banks[0] <= 30.55
    assert banks[-1] >= 33.45
    assert np.diff(banks)[0] == pytest.approx(0.05)
