"""A sound study of a river to spoil: a weir, a surveyed reach, a skewed bridge, a reach above. The site is invented."""
# ruff: noqa: E501  (long lines of a study, tables)

from __future__ import annotations

from pathlib import Path

from overbank.study.build import Problem, build
from overbank.study.load import Study, read_study

RIVER = """\
title = "A river with a weir and a bridge (invented)"

[run]
samples = 1024
replicates = 8

[decision]
target_probability = 0.05
assurance = 0.9
at = "road"

[flow]
design_m3_s = { lognormal = { median = 30.0, cov = 0.2 }, basis = "estimate" }

[tailwater]
normal_depth = { slope = 0.0015, section = { shape = "surveyed", points = "below.csv", zones = [{ manning_n = 0.04 }] } }

[[element]]
kind = "weir"
id = "sill"
bank_level_m = 13.5

[element.crest]
kind = "broad_crested"
level_m = 10.8
breadth_m = 1.5
angle_deg = 30
flow_factor = { lognormal = { median = 1.0, cov = 0.05 } }

[element.approach]
section = { shape = "rectangle", width_m = 16.0 }
bed_level_m = 10.0

[[element]]
kind = "channel"
id = "meadow"
length_m = 120.0
bed_slope = 0.001
bank_level_m = 13.6

[element.section]
shape = "surveyed"
points = "meadow.csv"
method = { discrete = { values = ["subdivided", "horton"], weights = [0.7, 0.3] }, basis = "open" }
shift_m = { normal = { mean = 0.0, sd = 0.02 } }
zones = [
    { to_m = 12.0, manning_n = 0.06 },
    { to_m = 24.0, manning_n = { lognormal = { median = 0.035, cov = 0.15 }, basis = "tables" } },
    { manning_n = 0.05 },
]

[[element]]
kind = "bridge"
id = "road"
opening = { shape = "arch", count = 2, span_m = 6.0, rise_m = 2.8, wall_height_m = 1.4, bed_level_m = 10.1 }
side_opening = { shape = "pipe", diameter_m = 1.2, bed_level_m = 11.4 }
approach = { section = { shape = "trapezoid", bed_width_m = 12.0, side_slope = 1.5 }, bed_level_m = 10.15 }
skew = { angle_deg = 20, spans = "along the road" }
blockage = { beta = { a = 1.2, b = 5.0 }, basis = "judged" }
pattern = "floating_raft"
deck = { level_m = 13.6, length_m = 14.0 }
approach_road = { level_m = 13.4, length_m = 30.0, coefficient = 1.5 }
bank_level_m = 13.3

[[element]]
kind = "channel"
id = "wood"
section = { shape = "rectangle", width_m = 12.0 }
length_m = 60.0
bed_slope = 0.002
manning_n = { value = 0.05, basis = "tables" }
"""

BELOW = "offset_m,level_m\n0,13\n3,9.6\n9,9.2\n15,9.5\n18,13\n"
MEADOW = "offset_m,level_m\n0,14\n2,12\n12,11.8\n14,10.2\n16,10\n20,10\n22,10.3\n24,11.8\n38,12.1\n40,14\n"
WEIR, REACH, BRIDGE, WOOD = ("[[element]]" + part for part in RIVER.split("[[element]]")[1:])
"""The four elements."""

TAILWATER = next(line for line in RIVER.splitlines() if line.startswith("normal_depth"))


SURVEYED = 'section = { shape = "surveyed", points = "below.csv", shift_m = SHIFT, zones = ZONES }'
ZONES = "[{ to_m = 5, manning_n = 0.07 }, { manning_n = 0.04 }]"
APPROACHES = (
    ('section = { shape = "rectangle", width_m = 16.0 }\nbed_level_m = 10.0', SURVEYED.replace("SHIFT", "0.7")),
    ("breadth_m = 1.5\n", "breadth_m = 1.5\nwidth_m = 9.0\n"),
    (
        'approach = { section = { shape = "trapezoid", bed_width_m = 12.0, side_slope = 1.5 }, bed_level_m = 10.15 }',
        f"approach = {{ {SURVEYED.replace('SHIFT', '{ normal = { mean = 0.6, sd = 0.05 } }')} }}",
    ),
    ("count = 2, span_m = 6.0", "count = 2, span_m = 5.0"),
)
"""Changes that put weir and bridge into surveyed channels."""


def in_surveyed_channels(text: str = RIVER) -> str:
    """The river with surveyed sections as the approaches of its weir and its bridge."""
    for old, new in APPROACHES:
        assert old in text
        text = text.replace(old, new.replace("ZONES", ZONES))
    return text


def read_river(folder: Path, text: str = RIVER) -> Study:
    """The study of that text, written into a folder beside its surveys."""
    (folder / "below.csv").write_text(BELOW, encoding="utf-8")
    (folder / "meadow.csv").write_text(MEADOW, encoding="utf-8")
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return read_study(folder)


def built_river(folder: Path, text: str = RIVER) -> Problem:
    """What the study of that text builds."""
    return build(read_river(folder, text))
