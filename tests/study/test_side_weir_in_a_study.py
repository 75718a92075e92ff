"""A side weir in a study: what is left out, what cannot be, and a run whose overtopping is counted apart."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from overbank.errors import StudyError
from overbank.run import run
from overbank.study.build import build
from overbank.study.load import read_study
from small import written

from .sound import edited

SPILL = """\
title = "A mill leat with a low bank (invented)"

[run]
samples = 512
replicates = 4
seed = 5

[decision]
target_probability = 0.05
assurance = 0.9
at = "lane"

[flow]
design_m3_s = { lognormal = { median = 4.0, cov = 0.2 }, basis = "invented" }

[tailwater]
level_m = 10.5

[[element]]
kind = "gate"
id = "lane"
width_m = 3.0
opening_m = 0.7
blockage = { uniform = { low = 0.0, high = 1.0 }, basis = "invented" }
approach = { bed_level_m = 10.0, section = { shape = "rectangle", width_m = 4.0 } }
bank_level_m = 11.35

[[element]]
kind = "side_weir"
id = "leat"
section = { shape = "rectangle", width_m = 4.0 }
length_m = 6.0
crest_level_m = 11.0
coefficient = 1.6
"""


def read(folder: Path, *changes: tuple[str, str]) -> Path:
    return written(folder, edited(*changes, text=SPILL))


def test_its_bed_lies_on_what_is_below(tmp_path: Path) -> None:
    problem = build(read_study(read(tmp_path)))
    assert problem.fixed["leat.bed_level_m"] == 10.0
    assert "coefficient" not in {item.name for item in problem.assumptions if item.assumed}


FAULTS = [
    ("crest_level_m = 11.0", "crest_level_m = 9.9", "leat.crest_level_m", "a crest above the bed"),
    ("coefficient = 1.6", "", "leat.coefficient", "coefficient"),
    ("coefficient = 1.6", "coefficient = 3.1", "leat.coefficient", "a weir coefficient [m^0.5/s] from 0.3 to 2.2"),
    ("length_m = 6.0", "length_m = 0", "leat.length_m", "a length"),
    ("length_m = 6.0", "length_m = 6.0\nbank_level_m = 9.0", "leat.bank_level_m", "a bank above the bed"),
    ("length_m = 6.0", "length_m = 6.0\noutside_level_m = 10.8", "leat.outside_level_m", "one of the keys"),
    ('"leat"\nsection = { shape = "rectangle"', '"leat"\nsection = { shape = "surveyed"', "leat", '"rectangle"'),
]


@pytest.mark.parametrize(("old", "new", "where", "expected"), FAULTS)
def test_what_cannot_be(tmp_path: Path, old: str, new: str, where: str, expected: str) -> None:
    with pytest.raises(StudyError) as caught:
        read_study(read(tmp_path, (old, new)))
    assert where in str(caught.value)
    assert expected in str(caught.value)


def test_the_first_element_must_say_its_bed(tmp_path: Path) -> None:
    gate = SPILL[SPILL.index("[[element]]\nkind") : SPILL.index('[[element]]\nkind = "side')]
    with pytest.raises(StudyError, match="the level of the bed beside the crest"):
        read_study(
            read(tmp_path, (gate, ""), ('at = "lane"', 'at = "leat"'), ("length_m", "bank_level_m = 12\nlength_m"))
        )


G, DEPTH, WIDTH = 9.81, 1.35, 4.0
"""At the bank, 11.35 m, the channel is 1.35 m deep."""


def comes(stays: float) -> float:
    """The flow that comes where that stays, the water at the bank: by small steps of the middle rule."""
    energy, flow = DEPTH + (stays / (WIDTH * DEPTH)) ** 2 / (2 * G), stays

    def leaves(passing: float) -> float:
        y = energy
        for _ in range(60):
            y = energy - (passing / (WIDTH * y)) ** 2 / (2 * G)
        return 1.6 * float(max(y - 1.0, 0.0)) ** 1.5

    for _ in range(60):
        flow += 0.1 * leaves(flow + 0.05 * leaves(flow))
    return flow


def closes(flow: float) -> float:
    """Blockage at which the water stands at the bank: what stays must pass the gate, by the energy of its free jet."""
    stays = brentq(lambda below: comes(below) - flow, 1e-9, flow)

    def surplus(jet: float) -> float:
        velocities = (stays / (3.0 * jet)) ** 2 - (stays / (WIDTH * DEPTH)) ** 2
        return float(jet + velocities / (2 * G) - DEPTH)

    jet = brentq(surplus, 0.01, ((stays / 3.0) ** 2 / G) ** (1 / 3))
    return float(1.0 - jet / 0.61 / 0.7)


def test_its_overtopping_by_a_sum_over_floods(tmp_path: Path) -> None:
    """P = mean over floods of the chance that debris closes more than what brings the water to the bank."""
    low = ("level_m = 10.5", "level_m = 10.02")
    found = run(read_study(read(tmp_path, low)), only=("overtopping",)).overtopping
    flows = 4.0 * np.exp(np.sqrt(np.log(1.04)) * norm.ppf((np.arange(200) + 0.5) / 200))
    exact = float(np.mean([1.0 - max(closes(flow), 0.0) for flow in flows]))
    assert (found.integrated, found.fallen) == ("lane.blockage", 0)
    assert found.best.value == pytest.approx(exact, abs=0.002)
    high = ("crest_level_m = 11.0", "crest_level_m = 13.0")
    without = run(read_study(read(tmp_path, low, high)), only=("overtopping",)).overtopping
    assert without.best.value > found.best.value + 0.2


def test_what_leaves_in_the_design_flood(tmp_path: Path) -> None:
    """With the flow alone uncertain what leaves rises with it: quantiles are what leaves at the flow's."""
    open_gate = ('blockage = { uniform = { low = 0.0, high = 1.0 }, basis = "invented" }', "blockage = 0.3")
    study = read_study(read(tmp_path, open_gate))
    (found,) = run(study, only=("spilled",)).spilled
    problem = build(study)

    def leaves(flow: float) -> float:
        numbers = {**problem.medians(), "flow.design_m3_s": flow}
        return float(problem.site.march(numbers, 1).element("leat").results["over_flow"][0])

    for share, flow in found.flows.items():
        at = 4.0 * np.exp(np.sqrt(np.log(1.04)) * norm.ppf(share))
        assert flow.low - 0.02 <= leaves(at) <= flow.high + 0.02
    first = brentq(lambda flow: leaves(flow) - 1e-6, 1.0, 10.0)
    dry = norm.cdf(np.log(first / 4.0) / np.sqrt(np.log(1.04)))
    assert found.probability.value == pytest.approx(1.0 - dry, abs=0.01)
    assert found.element == "leat"
