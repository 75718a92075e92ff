"""A still pond above a rating: level = 10 + flow / 10 + shift, so that every answer has a closed form. Invented."""

from __future__ import annotations

import math
from pathlib import Path

from overbank.study.load import Study, read_study

FLOW, FLOW_SD, SHIFT_SD, BANK = 5.0, 0.5, 0.1, 10.6

POND = """\
title = "A pond (invented)"

[run]
samples = 8192
replicates = 16
seed = 5

[decision]
target_probability = 0.1
assurance = 0.9

[flow]
design_m3_s = { normal = { mean = 5.0, sd = 0.5 }, basis = "invented" }

[tailwater]
rating = "rating.csv"
rating_shift_m = { normal = { mean = 0.0, sd = 0.1 }, basis = "invented" }

[[element]]
kind = "channel"
id = "pond"
section = { shape = "rectangle", width_m = 300.0 }
length_m = 1.0
bed_level_m = 0.0
bed_slope = 0.0001
manning_n = 0.02
bank_level_m = 10.6
"""

RATING = "flow_m3_s,level_m\n0.1,10.01\n20.0,12.0\n"
"""The level rises by 0.1 m for every m3/s."""

LEVEL = 10.0 + 0.1 * FLOW
LEVEL_SD = math.hypot(0.1 * FLOW_SD, SHIFT_SD)
"""Mean and standard deviation of the level in the design flood [m]."""

SHIFT = next(line for line in POND.splitlines() if line.startswith("rating_shift_m"))
DESIGN = next(line for line in POND.splitlines() if line.startswith("design_m3_s"))


def pond(folder: Path, *changes: tuple[str, str], more: str = "") -> Study:
    """The pond, edited and read; `more` is put at its end."""
    text = POND
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    (folder / "rating.csv").write_text(RATING, encoding="utf-8")
    (folder / "study.toml").write_text(text + more, encoding="utf-8")
    return read_study(folder)
