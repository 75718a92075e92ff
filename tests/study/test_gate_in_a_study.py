"""A gate in a study: what is left out, and what cannot be."""

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import StudyError
from overbank.study.build import build
from overbank.study.load import read_study
from small import written

from .sound import edited

SLUICE = """\
title = "A sluice in a mill stream (invented)"

[decision]
target_probability = 0.05
assurance = 0.9

[flow]
design_m3_s = { lognormal = { median = 4.0, cov = 0.2 }, basis = "invented" }

[tailwater]
level_m = 10.9

[[element]]
kind = "gate"
id = "sluice"
width_m = 3.0
opening_m = 0.5
approach = { bed_level_m = 10.0, section = { shape = "rectangle", width_m = 4.0 } }
top_level_m = 12.2
bank_level_m = 12.0
"""


def read(folder: Path, *changes: tuple[str, str]) -> Path:
    return written(folder, edited(*changes, text=SLUICE))


def test_what_is_left_out(tmp_path: Path) -> None:
    problem = build(read_study(read(tmp_path)))
    fixed = problem.fixed
    assert (fixed["sluice.sill_level_m"], fixed["sluice.contraction"], fixed["sluice.blockage"]) == (10.0, 0.61, 0.0)
    assert fixed["sluice.top_coefficient"] == pytest.approx(2 / 3 * 0.611 * (2 * 9.81) ** 0.5, abs=0.005)
    assumed = {item.name: item.basis for item in problem.assumptions if item.assumed}
    assert "published exercises" in str(assumed["sluice.contraction"])


FAULTS = [
    (
        "opening_m = 0.5",
        "opening_m = 0.5\nsill_level_m = 9.8",
        "sluice.sill_level_m",
        "a sill that is not below the bed",
    ),
    ("opening_m = 0.5", "opening_m = 2.4", "sluice.top_level_m", "a top above the lip"),
    ("bank_level_m = 12.0", "bank_level_m = 9.9", "sluice.bank_level_m", "a bank above the sill"),
    ("width_m = 3.0", "width_m = 4.5", "sluice.width_m", "a gate not wider than the channel"),
    ("top_level_m = 12.2", "top_coefficient = 1.7", "sluice.top_coefficient", "only beside a top_level_m"),
    ('shape = "rectangle"', 'shape = "trapezoid"', "sluice.approach.section.shape", '"rectangle"'),
    ("opening_m = 0.5", "openin_m = 0.5", "sluice.openin_m", "one of the keys kind, id, inflow_m3_s, width_m"),
    ("opening_m = 0.5", "opening_m = -0.5", "sluice.opening_m", "a height [m] from 0 to 20"),
]


@pytest.mark.parametrize(("old", "new", "place", "expected"), FAULTS)
def test_what_cannot_be(tmp_path: Path, old: str, new: str, place: str, expected: str) -> None:
    with pytest.raises(StudyError) as refused:
        read_study(read(tmp_path, (old, new)))
    (fault,) = refused.value.faults
    assert fault.place.endswith(place)
    assert expected in fault.expected
