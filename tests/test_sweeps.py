"""A design sweep against the runs that it is made of, and what Python refuses in words."""

from __future__ import annotations

from pathlib import Path

import pytest

import overbank
from small import study

FEW = ("samples = 4096", "samples = 512")


def test_every_row_is_the_run_with_these_values(tmp_path: Path) -> None:
    few = study(tmp_path, FEW)
    swept = overbank.sweep_study(few, {"lane.screen.width_m": [3.6, 5.0], "lane.screen.gap_m": [0.10, 0.15]})
    assert swept[["lane.screen.width_m", "lane.screen.gap_m"]].to_numpy().tolist() == [
        [3.6, 0.10],
        [3.6, 0.15],
        [5.0, 0.10],
        [5.0, 0.15],
    ]
    last = few.with_values({"lane.screen.width_m": 5.0, "lane.screen.gap_m": 0.15})
    own = overbank.run_study(last, only=("headwater", "overtopping", "blockage"))
    assert own.drivers is None
    assert swept["probability"].iloc[-1] == pytest.approx(own.overtopping.best.value, abs=1e-6)
    assert swept["assured_level_m"].iloc[-1] == pytest.approx(own.headwater.quantiles[0.9].value, abs=1e-6)
    assert swept["medians_level_m"].iloc[-1] == pytest.approx(last.model().levels()["lane"].iloc[0], abs=1e-6)
    assert repr(own).startswith("<Outcome 'A small study (invented)': overtopping at lane in the design flood")


def test_a_path_is_no_study() -> None:
    with pytest.raises(overbank.DomainError, match=r"got 'studies/x'. Read it first: overbank.read_study\('studies/x'"):
        overbank.run_study("studies/x")  # type: ignore[arg-type]
