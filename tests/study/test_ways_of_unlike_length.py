"""Zones in which the water has a way of its own length: normal level and a reach stepped upstream by SciPy."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from overbank.errors import StudyError
from overbank.study.build import Problem, build
from overbank.study.load import read_study

STUDY = """\
title = "A winding stream in its plain (invented)"
[run]
samples = 64
replicates = 2
seed = 3
[decision]
target_probability = 0.05
assurance = 0.9
[flow]
design_m3_s = { lognormal = { median = 30.0, cov = 0.3 }, basis = "invented" }
[tailwater]
level_m = 12.4
[[element]]
kind = "channel"
id = "stream"
section = { shape = "surveyed", points = "section.csv", zones = [{ manning_n = 0.04, to_m = 8 }, { manning_n = 0.06RATIO }] }
length_m = LENGTH
bed_slope = 0.001
bank_level_m = 99.0
"""  # noqa: E501

POINTS = "offset_m,level_m\n0,16\n0,10\n8,10\n8,11.5\n40,11.5\n40,16\n"


def stream(folder: Path, ratio: str, length: float) -> Problem:
    (folder / "section.csv").write_text(POINTS, encoding="utf-8")
    (folder / "study.toml").write_text(STUDY.replace("RATIO", ratio).replace("LENGTH", f"{length}"), encoding="utf-8")
    return build(read_study(folder / "study.toml"))


def zones(y: float) -> tuple[np.ndarray, np.ndarray]:
    """Area and conveyance of channel and plain by hand, the line between them not wetted."""
    area = np.array([8.0 * y, 32.0 * (y - 1.5)])
    wetted = np.array([y + 8.0 + 1.5, 32.0 + y - 1.5])
    return area, area ** (5 / 3) / wetted ** (2 / 3) / np.array([0.04, 0.06])


def level(found: Problem, flow: float) -> float:
    numbers = {**found.medians(), "flow.design_m3_s": flow}
    return float(found.site.march(numbers, 1).element("stream").level[0])


@pytest.mark.parametrize("ratio", [0.6, 1.0, 1.7])
def test_far_upstream_each_zone_falls_by_as_much_on_its_own_way(ratio: float, tmp_path: Path) -> None:
    found = stream(tmp_path, f", length_ratio = {ratio}", 50_000.0)
    ways = np.array([1.0, ratio])
    normal = brentq(lambda y: float(np.sum(zones(y)[1] * np.sqrt(0.001 / ways))) - 30.0, 1.51, 5.0)
    assert level(found, 30.0) == pytest.approx(10.0 + 50.0 + normal, abs=1e-3)


def test_a_reach_by_scipy(tmp_path: Path) -> None:
    """d(Z + alpha V^2/2g)/dx = (Q / sum K_i/sqrt(r_i))^2, alpha of the two zones' own velocities."""
    ways, flow = np.array([1.0, 0.6]), 30.0

    def head(y: float) -> float:
        area, conveyance = zones(y)
        part = flow * conveyance / np.sqrt(ways) / np.sum(conveyance / np.sqrt(ways))
        return float(np.sum(part**3 / area**2) / flow / 19.62)

    def rate(_: float, y: np.ndarray) -> list[float]:
        here = float(y[0])
        friction = (flow / float(np.sum(zones(here)[1] / np.sqrt(ways)))) ** 2
        return [(friction - 0.001) / (1 + (head(here + 1e-5) - head(here - 1e-5)) / 2e-5)]

    depth = float(solve_ivp(rate, (0.0, 300.0), [2.4], rtol=1e-8, atol=1e-10).y[0, -1])
    assert level(stream(tmp_path, ", length_ratio = 0.6", 300.0), flow) == pytest.approx(10.3 + depth, abs=2e-4)


def test_left_out_it_is_one_and_a_longer_way_never_lowers_the_level(tmp_path: Path) -> None:
    assert level(stream(tmp_path, "", 300.0), 30.0) == level(stream(tmp_path, ", length_ratio = 1", 300.0), 30.0)
    rising = [level(stream(tmp_path, f", length_ratio = {ratio}", 300.0), 30.0) for ratio in (0.4, 0.8, 1.0, 1.4, 2.5)]
    assert rising == sorted(rising)
    with pytest.raises(StudyError, match=r"a ratio of lengths from 0\.3 to 3"):
        stream(tmp_path, ", length_ratio = 0.1", 300.0)
