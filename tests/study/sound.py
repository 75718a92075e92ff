"""A sound study to spoil, and what comes of it."""
# ruff: noqa: E501  (long lines of a study, tables)

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import Fault, StudyError
from overbank.study.build import Problem, build
from overbank.study.load import Study, read_study

SOUND = """\
title = "A sound study (invented)"

[run]
samples = 1024
replicates = 8
seed = 3

[decision]
target_probability = 0.05
assurance = 0.9
at = "lane"

[flow]
design_m3_s = { lognormal = { median = 7.5, cov = 0.18 }, basis = "estimate", evidence = "local record" }

[tailwater]
normal_depth = { bed_level_m = 29.9, slope = 0.003, manning_n = 0.045, section = { shape = "trapezoid", bed_width_m = 2.5, side_slope = 1.5 } }

[[element]]
kind = "culvert"
id = "lane"
bank_level_m = { normal = { mean = 32.1, sd = 0.05 }, survey = { sd_after = 0.02, cost = 600 } }

[element.barrel]
shape = "box"
count = 1
span_m = 2.4
rise_m = 1.5
length_m = { value = 22.0, basis = "drawing" }
upstream_invert_m = 30.10
downstream_invert_m = 30.00
manning_n = { triangular = { low = 0.012, mode = 0.014, high = 0.018 }, basis = "tables" }

[element.inlet]
edge = "wingwalls 30 to 75 deg"
head_factor = { normal = { mean = 1.0, sd = 0.05 } }

[element.screen]
width_m = 3.6
height_m = 2.0
bar_m = 0.020
gap_m = 0.125
inclination_deg = 60
blockage = { inflated_beta = { at_zero = 0.2, a = 1.5, b = 2.5, at_one = 0.05 } }
pattern = { discrete = { values = ["uniform", "bottom_up"], weights = [0.7, 0.3] } }

[element.road]
level_m = 32.6
length_m = 14.0
coefficient = { uniform = { low = 1.4, high = 1.7 } }

[[element]]
kind = "channel"
id = "garden"
section = { shape = "rectangle", width_m = 4.0 }
length_m = 80.0
bed_level_m = 30.1
bed_slope = 0.003
manning_n = { lognormal = { median = 0.05, cov = 0.2 } }
bank_level_m = 32.4

[[dependence]]
between = ["flow.design_m3_s", "lane.screen.blockage"]
rank_correlation = 0.4
"""

RATING = "flow_m3_s,level_m\n0,29.9\n5,30.8\n10,31.2\n20,31.6\n"
NORMAL_DEPTH = next(line for line in SOUND.splitlines() if line.startswith("normal_depth"))


def edited(*changes: tuple[str, str], text: str = SOUND) -> str:
    """The sound study with each text replaced, which must be there exactly once."""
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the sound study"
        text = text.replace(old, new)
    return text


def line_of(part: str, text: str) -> int:
    """Line on which a part of a text begins, counted by itself and not by the locator."""
    return text[: text.index(part)].count("\n") + 1


def read(folder: Path, text: str) -> Study:
    """The study of that text, written into a folder."""
    file = folder / "study.toml"
    file.write_text(text, encoding="utf-8")
    return read_study(file)


def built(folder: Path, text: str) -> Problem:
    """What the study of that text builds."""
    return build(read(folder, text))


def faults(folder: Path, text: str) -> tuple[Fault, ...]:
    """The faults of the study of that text."""
    with pytest.raises(StudyError) as caught:
        read(folder, text)
    return caught.value.faults


def only_fault(folder: Path, text: str) -> Fault:
    """The one fault of the study of that text."""
    found = faults(folder, text)
    assert len(found) == 1, "\n".join(map(str, found))
    return found[0]
