"""The storage example of HDS-5 (2nd edition, pp. 136-137) as far as it was read: the flood, the pipes, their levels.

The table of its pool was not seen, nor the kind of its pipes and inlet: concrete with a square edge in a headwall, and
a pool with vertical walls, are taken here. So what is shown is the way of the example: three pipes pass the flood below
the allowable level without a pool, two do not, and two with a pool do, by an independent solve of the same pool too.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from overbank.outputs.passed_floods import Floods
from overbank.sampling.run import Run
from overbank.study.load import read_study
from small import written

FOOT = 0.3048
FLOWS = (9, 10, 11, 13, 17, 28, 40, 80, 136, 190, 220, 220, 201, 170, 140, 120, 98, 82, 70, 60, 53, 47, 41, 37)
"""Inflow every 7.5 minutes [ft3/s]; allowable level 885 ft."""

PEAK = 220 * FOOT**3
STUDY = """\
title = "Storage upstream of pipes, after HDS-5"
[run]
samples = 64
replicates = 2
seed = 1
[decision]
target_probability = 0.05
[flow]
design_m3_s = {peak}
hydrograph = {{ shape = "table", table = "flood.csv", base_flow_m3_s = {base} }}
pool = {{ table = "pool.csv" }}
[tailwater]
level_m = {{ normal = {{ mean = {tail}, sd = 0.01 }} }}
[[element]]
kind = "culvert"
id = "fill"
bank_level_m = {allowable}
barrel = {{ shape = "pipe", count = {count}, diameter_m = {diameter}, length_m = {length}, upstream_invert_m = {inlet}, downstream_invert_m = {outlet}, manning_n = 0.012 }}
inlet = {{ edge = "{edge}" }}
"""  # noqa: E501
AREA = 4000.0
"""Of the pool [m2]: an acre, taken here."""

EDGE = "square edge in headwall"


def floods(folder: Path, count: int) -> Floods:
    written(
        folder,
        STUDY.format(
            peak=PEAK,
            base=9 * FOOT**3,
            tail=868 * FOOT + 0.3,
            allowable=885 * FOOT,
            count=count,
            diameter=3 * FOOT,
            length=200 * FOOT,
            inlet=878 * FOOT,
            outlet=868 * FOOT,
            edge=EDGE,
        ),
    )
    rows = "".join(f"{0.125 * i},{flow - 9}\n" for i, flow in enumerate(FLOWS))
    (folder / "flood.csv").write_text(f"hours,flow_m3_s\n{rows}", encoding="utf-8")
    (folder / "pool.csv").write_text(f"level_m,area_m2\n{878 * FOOT},{AREA}\n{890 * FOOT},{AREA}\n", encoding="utf-8")
    return Floods(Run(read_study(folder / "study.toml")), 64)


def test_three_pipes_or_two_with_a_pool(tmp_path: Path) -> None:
    three = floods(tmp_path, 3).passed(crew=False, pool=False).highest
    assert np.all(three < 885 * FOOT)
    made = floods(tmp_path, 2)
    dry, pooled = made.passed(crew=False, pool=False), made.passed(crew=False)
    assert np.all(dry.highest > 885 * FOOT)
    assert np.all(pooled.highest < 885 * FOOT)
    assert np.max(pooled.missing) < 1e-6
    # explicit steps of a second, the rating of the two pipes by straight lines between fifty levels
    flows = np.linspace(0.01, PEAK, 50)
    levels = np.array([made.flood.levels(made.place.changed(np.full(64, flow), np.zeros(64)))[0] for flow in flows])
    level = float(dry.levels[0, 0])
    highest, times = level, 0.125 * 3600.0 * np.arange(len(FLOWS))
    for second in range(int(times[-1])):
        inflow = float(np.interp(second, times, FLOWS)) * FOOT**3
        level += (inflow - float(np.interp(level, levels, flows))) / AREA
        highest = max(highest, level)
    assert pooled.highest[0] == pytest.approx(highest, abs=0.01)
    assert np.max(pooled.flows[:, 0]) < 0.85 * PEAK
