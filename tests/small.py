"""A small study for the tests of a run: a screened box with a road over it, and a reach above. The site is invented."""
# ruff: noqa: E501  (long lines of a study)

from __future__ import annotations

from pathlib import Path

from overbank.study.load import Study, read_study

SMALL = """\
title = "A small study (invented)"

[run]
samples = 4096
replicates = 8
seed = 11

[decision]
target_probability = 0.05
assurance = 0.9

[flow]
design_m3_s = { lognormal = { median = 6.0, cov = 0.2 }, basis = "invented", evidence = "judgement" }

[tailwater]
level_m = { normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }

[[element]]
kind = "culvert"
id = "lane"
bank_level_m = { normal = { mean = 32.2, sd = 0.05 } }
barrel = { shape = "box", span_m = 2.4, rise_m = 1.5, length_m = 22.0, upstream_invert_m = 30.10, downstream_invert_m = 30.00, manning_n = 0.014 }
inlet = { edge = "wingwalls 30 to 75 deg" }

[element.screen]
width_m = 3.6
height_m = 1.9
bar_m = 0.020
gap_m = 0.125
overflow = true
blockage = { inflated_beta = { at_zero = 0.2, a = 1.5, b = 2.5, at_one = 0.05 } }

[element.road]
level_m = 32.6
length_m = 14.0

[[element]]
kind = "channel"
id = "garden"
section = { shape = "trapezoid", bed_width_m = 2.5, side_slope = 1.5 }
length_m = 80.0
bed_slope = 0.003
manning_n = { lognormal = { median = 0.05, cov = 0.2 }, basis = "invented" }
bank_level_m = 32.45

[[dependence]]
between = ["flow.design_m3_s", "lane.screen.blockage"]
rank_correlation = 0.4
"""

DEPENDENCE = SMALL[SMALL.index("[[dependence]]") :]
ROAD = SMALL[SMALL.index("[element.road]") : SMALL.index('[[element]]\nkind = "channel"')]
SCREEN = SMALL[SMALL.index("[element.screen]") : SMALL.index("[element.road]")]
BLOCKAGE = next(line for line in SMALL.splitlines() if line.startswith("blockage"))
FLOW = next(line for line in SMALL.splitlines() if line.startswith("design_m3_s"))


def edited(*changes: tuple[str, str]) -> str:
    """The small study with each text replaced, which must be there exactly once."""
    text = SMALL
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the small study"
        text = text.replace(old, new)
    return text


def written(folder: Path, text: str = SMALL) -> Path:
    """The study file of that text in a folder, which is made."""
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "study.toml"
    file.write_text(text, encoding="utf-8")
    return file


def study(folder: Path, *changes: tuple[str, str]) -> Study:
    """The small study, edited and read."""
    return read_study(written(folder, edited(*changes)))
