"""Every step of a run worked line by line, redone from its printed figures alone, as by a pocket calculator."""

from __future__ import annotations

import re
from math import radians, sin, sqrt
from pathlib import Path

import pytest

from overbank.hydraulics.crests import KINDS
from overbank.outputs.medians import deterministic_run
from overbank.report.worked import worked_case
from overbank.site.by_hand.steps import Case, Step, Worked
from overbank.study.load import read_study
from study.river import BRIDGE, RIVER, WEIR, WOOD, read_river

STUDIES = Path(__file__).parents[2] / "studies"

ARITHMETIC = re.compile(r"(?:[0-9.]|[-+/()\u00d7\u2212^\u221a ]|e|sin |\u00b0)+")
"""Digits, signs, powers, roots and sines of degrees; nothing that the program would have to know."""


def again(numbers: str) -> float:
    """The value of a step's printed numbers."""
    text = numbers.replace("\u00d7", "*").replace("\u2212", "-").replace("^", "**").replace("²", "**2")
    text = re.sub(r"\u221a([0-9.]+)", r"sqrt(\1)", text).replace("\u221a(", "sqrt(")
    text = re.sub(r"sin ([0-9.]+)°", r"sin(radians(\1))", text)
    return float(eval(text, {"__builtins__": {}}, {"sqrt": sqrt, "sin": sin, "radians": radians}))


def redone(found: Worked) -> dict[str, Step]:
    """The steps by their symbols, each that shows its numbers held against its printed result."""
    assert not found.refusal, found.refusal
    for step in found.steps:
        if step.numbers and ARITHMETIC.fullmatch(step.numbers.replace("²", "")):
            shown = step.said.replace("\u2212", "-").removesuffix(step.unit).strip("\u00a0")
            decimals = len(shown.partition("e")[0].partition(".")[2])
            last = 10.0**-decimals * 10.0 ** int(shown.partition("e")[2] or 0)
            # six figures put in, four shown: the last digit may turn, and a level of six figures has 0.1 mm
            assert again(step.numbers) == pytest.approx(float(shown), abs=1.01 * last), step
    return {step.symbol: step for step in found.steps}


def worked_at(folder: Path, text: str, place: str) -> Worked:
    once = deterministic_run(read_river(folder, text))
    return worked_case(Case(once.problem.medians(), place, once.outcome))


def edited(text: str, *changes: tuple[str, str]) -> str:
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


CRESTS = {
    "broad_crested": "breadth_m = 1.5\n",
    "round_nosed": "breadth_m = 1.5\n",
    "thin_plate": "",
    "triangular": "",
    "given": "coefficient = 1.6\n",
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("angle", [0, 30])
@pytest.mark.parametrize("crest", [10.3, 12.6])
def test_a_weir_can_be_done_again(tmp_path: Path, kind: str, angle: int, crest: float) -> None:
    """Drowned with the crest low and free with it high; the flow that comes out is that of the study.

    Low in the bed some are bumps under the water that hold nothing back beyond the free flow.
    """
    own = edited(
        WEIR,
        ('kind = "broad_crested"', f'kind = "{kind}"'),
        ("level_m = 10.8", f"level_m = {crest}"),
        ("breadth_m = 1.5\n", CRESTS[kind]),
        ("angle_deg = 30", f"angle_deg = {angle}"),
    )
    steps = redone(worked_at(tmp_path, RIVER.replace(WEIR, own), "sill"))
    assert steps["k Qf"].result == pytest.approx(30.0, rel=1e-6)
    assert again(steps["k Qf"].numbers) == pytest.approx(30.0, rel=1e-4)
    if kind in ("thin_plate", "triangular"):
        assert (steps["k"].result < 1.0) == (crest == 10.3)
    elif crest == 12.6:
        assert steps["k"].result == 1.0
    else:  # a bump under the water: the level is that of the energy over it, or of free flow where that is the higher
        assert 0.5 < steps["k"].result <= 1.0


# One group of square openings, so that every area is arithmetic.
SQUARE = edited(
    BRIDGE,
    (
        'shape = "arch", count = 2, span_m = 6.0, rise_m = 2.8, wall_height_m = 1.4, bed_level_m = 10.1',
        'shape = "box", count = 2, span_m = 6.0, rise_m = 2.8, bed_level_m = 10.1',
    ),
    ('side_opening = { shape = "pipe", diameter_m = 1.2, bed_level_m = 11.4 }\n', ""),
)
DEBRIS = 'blockage = { beta = { a = 1.2, b = 5.0 }, basis = "judged" }\npattern = "floating_raft"'
BRIDGES = {
    "a raft, free surface": (SQUARE, 30.0, "free surface in the openings"),
    "clean": (edited(SQUARE, (DEBRIS, "blockage = 0.0")), 30.0, "free surface in the openings"),
    "choked": (
        edited(SQUARE, ("span_m = 6.0", "span_m = 2.2"), ("rise_m = 2.8", "rise_m = 9.0"), (DEBRIS, "blockage = 0.0"),
               ("level_m = 13.6", "level_m = 23.6"), ("level_m = 13.4", "level_m = 23.4")),
        60.0, "openings choked, critical flow in them",
    ),
    "both sides drowned": (edited(SQUARE, ("rise_m = 2.8", "rise_m = 1.9")), 34.0, "openings drowned on both sides"),
    "drowned and deck": (
        edited(SQUARE, ("rise_m = 2.8", "rise_m = 1.0"), (DEBRIS, "blockage = 0.3")), 40.0,
        "openings drowned on both sides; flow over the deck or its approaches",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BRIDGES)
def test_a_bridge_can_be_done_again(tmp_path: Path, name: str) -> None:
    """The head of the water in the openings against that from below, and that before them against the level found."""
    own, flow, governs = BRIDGES[name]
    text = edited(RIVER.replace(BRIDGE, own), ("median = 30.0", f"median = {flow}"))
    found = worked_at(tmp_path, text, "road")
    assert found.governs == governs
    steps = redone(found)
    if governs != "openings choked, critical flow in them":
        assert again(steps["Eo"].numbers) == pytest.approx(again(steps["E0"].numbers), abs=2e-4)
    assert again(steps["Ef"].numbers) == pytest.approx(again(steps["E1"].numbers), abs=2e-4)
    last = "zt" if "zt" in steps else "zf"
    assert steps[last].result == pytest.approx(steps["z"].result, abs=1e-5)
    over = sum(step.result for step in found.steps if step.symbol == "Qd")
    assert steps["Qo"].result + over == pytest.approx(flow, rel=1e-5)


def test_two_groups_of_openings_are_worked_and_open_reaches_say_why_not(tmp_path: Path) -> None:
    steps = redone(worked_at(tmp_path, RIVER, "road"))
    assert steps["Σq"].result == pytest.approx(steps["Qo"].result, rel=1e-5)
    assert worked_at(tmp_path, RIVER, "wood").refusal.startswith("an open reach")
    assert WOOD in RIVER


@pytest.mark.parametrize("folder", ["quillet-lane", "box-under-a-road", "four-arrangements"])
def test_a_culvert_can_be_done_again(folder: str) -> None:
    once = deterministic_run(read_study(STUDIES / folder))
    found = worked_case(Case(once.problem.medians(), once.problem.at, once.outcome))
    steps = redone(found)
    assert len(steps) > 12
    for energy, level in (("ei", "zi"), ("eo", "zo")):
        if energy in steps:  # a channel stands above
            assert steps[f"e of {level}"].result == pytest.approx(steps[energy].result, abs=1e-6)
    shown = sum(bool(step.numbers and ARITHMETIC.fullmatch(step.numbers)) for step in found.steps)
    assert shown >= 6
