"""Banks that follow a profile along a reach: against a reach stepped upstream apart, and reaches cut at every point."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from overbank.errors import StudyError
from overbank.run import run
from overbank.study.build import Problem, build
from overbank.study.load import Study, read_study

REACH = """\
title = "A bank with a dip (invented)"
[run]
samples = 256
replicates = 2
seed = 3
[decision]
target_probability = 0.05
assurance = 0.9
[flow]
design_m3_s = { lognormal = { median = 9.0, cov = 0.4 }, basis = "invented" }
[tailwater]
level_m = { normal = { mean = 11.0, sd = 0.1 }, basis = "invented" }
[[element]]
kind = "channel"
id = "meadow"
section = { shape = "rectangle", width_m = 5.0 }
length_m = 300.0
bed_level_m = 10.0
bed_slope = 0.001
manning_n = 0.035
BANK
"""
BANK = 'bank = { profile = "bank.csv" }'
DIP = "offset_m,level_m\n0,12.1\n80,12.2\n110,11.6\n150,12.2\n300,12.6\n"


def lined(folder: Path, bank: str = BANK, rows: str = DIP, text: str = REACH) -> Study:
    (folder / "bank.csv").write_text(rows, encoding="utf-8")
    (folder / "study.toml").write_text(text.replace("BANK", bank), encoding="utf-8")
    return read_study(folder / "study.toml")


def level_of(found: Problem, **numbers: float) -> float:
    changed = {"flow.design_m3_s": numbers["flow"], "tailwater.level_m": numbers["tailwater"]}
    return float(found.site.march({**found.medians(), **changed}, 1).element("meadow").level[0])


def surface(flow: float, tailwater: float) -> tuple[np.ndarray, np.ndarray]:
    """Levels along the reach by dy/dx = (Sf - S)/(1 - Fr^2), Chow (1959) chapter 9, by SciPy."""

    def rate(_: float, y: np.ndarray) -> np.ndarray:
        a, p = 5.0 * y, 5.0 + 2 * y
        friction = (0.035 * flow / a) ** 2 * (p / a) ** (4 / 3)
        return (friction - 0.001) / (1 - flow**2 / (9.81 * 25.0 * y**3))

    x = np.linspace(0.0, 300.0, 3001)
    y = solve_ivp(rate, (0.0, 300.0), [tailwater - 10.0], t_eval=x, rtol=1e-9, atol=1e-11).y[0]
    return x, 10.0 + 0.001 * x + y


def test_against_a_reach_stepped_upstream_apart(tmp_path: Path) -> None:
    found = build(lined(tmp_path))
    offsets, levels = np.loadtxt(DIP.splitlines()[1:], delimiter=",").T
    worst = []
    for flow, tailwater in ((3.0, 11.0), (9.0, 11.2), (14.0, 11.8), (6.0, 12.0)):
        x, water = surface(flow, tailwater)
        bank = np.interp(x, offsets, levels)
        worst.append(float(x[np.argmax(water - bank)]))
        assert level_of(found, flow=flow, tailwater=tailwater) == pytest.approx(
            float(np.max(water - bank)) + 12.6, abs=5e-5
        )
    assert worst == [110.0] * 4  # the dip goes first though the bank is lower against its own end nowhere else
    assert found.medians()["meadow.bank_level_m"] == 12.6


def test_a_level_line_is_a_level_bank(tmp_path: Path) -> None:
    """The water stands highest at the upstream end: every figure of the two studies is the same."""
    shares = []
    for name, bank in (("line", BANK), ("level", "bank_level_m = 12.0")):
        (tmp_path / name).mkdir()
        text = lined(tmp_path / name, bank, "offset_m,level_m\n0,12\n300,12\n")
        shares.append(run(text, only=("overtopping",)).overtopping.best.value)
    assert shares[0] == shares[1] > 0.05


def test_it_goes_over_where_any_place_of_a_cut_reach_does(tmp_path: Path) -> None:
    """The same reach as elements between the points of the line, each with its bank: the least freeboard of them."""
    found = build(lined(tmp_path))
    head, element = REACH.split("[[element]]")
    offsets, levels = np.loadtxt(DIP.splitlines()[1:], delimiter=",").T
    text = head
    for k, (x, x_next) in enumerate(pairwise(offsets)):
        piece = (
            element.replace("300.0", f"{x_next - x}")
            .replace("10.0\n", f"{10 + 0.001 * x}\n")
            .replace("meadow", f"m{k}")
        )
        text += "[[element]]" + piece.replace("BANK", f"bank_level_m = {levels[k + 1]}")
    cut = build(lined(tmp_path, text=text))
    rng = np.random.default_rng(6)
    drawn = {"flow.design_m3_s": rng.uniform(2, 16, 200), "tailwater.level_m": rng.uniform(10.9, 12.1, 200)}
    whole = found.site.march({**found.medians(), **drawn}, 200).element("meadow")
    pieces = cut.site.march({**cut.medians(), **drawn}, 200).elements
    depths = [each.level - each.bank_level for each in pieces] + [drawn["tailwater.level_m"] - levels[0]]
    # the pieces hold the points alone; a straight bank between them and a curved surface differ by less than 2 mm
    np.testing.assert_allclose(whole.level - whole.bank_level, np.max(depths, axis=0), atol=2e-3)
    (quick,) = found.site.levels({**found.medians(), **drawn}, 200, ("meadow",))
    np.testing.assert_array_equal(quick, whole.level)


def test_the_law_and_the_words(tmp_path: Path) -> None:
    found = build(lined(tmp_path))
    rng = np.random.default_rng(7)
    drawn = {"flow.design_m3_s": rng.uniform(1, 20, 300), "tailwater.level_m": rng.uniform(10.2, 12.4, 300)}
    drawn["meadow.manning_n"] = rng.uniform(0.02, 0.06, 300)
    before = found.site.march({**found.medians(), **drawn}, 300).element("meadow").level
    for name, values in drawn.items():
        more = {**drawn, name: values * (1 + 0.1 * rng.random(300))}
        after = found.site.march({**found.medians(), **more}, 300).element("meadow").level
        assert (before - after).max() < 2e-5, name
    told = found.site.march(found.medians(), 1).element("meadow").governs()
    assert told == "subcritical; the level is set against a bank that follows a profile"


FAULTS = {
    "both": ("bank_level_m = 12.0\n" + BANK, DIP, "", "meadow.bank", "bank_level_m, or a bank that follows"),
    "too long": (BANK, "offset_m,level_m\n0,12\n301,12\n", "", "meadow.bank.profile", "offsets from 0 to the length"),
    "negative": (BANK, "offset_m,level_m\n-5,12\n30,12\n", "", "meadow.bank.profile", "offsets from 0 to the length"),
    "below the bed": (BANK, "offset_m,level_m\n0,12\n300,10.2\n", "", "meadow.bank.profile", "above the bed all along"),
    "one point": (BANK, "offset_m,level_m\n0,12\n", "", "meadow.bank.profile", "at least two rows"),
    "receptor": (BANK, DIP, '[[receptor]]\nname = "door"\nlevel_m = 12.0\n', "receptor", "without a bank that follows"),
    "no file": ('bank = { profile = "banks.csv" }', DIP, "", "meadow.bank.profile", "the name of a CSV file"),
    "no profile": ("bank = { shift_m = 0.1 }", DIP, "", "meadow.bank.profile", "the name of a CSV file"),
}


@pytest.mark.parametrize("what", FAULTS)
def test_faults(what: str, tmp_path: Path) -> None:
    bank, rows, more, place, expected = FAULTS[what]
    with pytest.raises(StudyError) as caught:
        lined(tmp_path, bank, rows, REACH + more)
    assert any(place in each.place and expected in each.expected for each in caught.value.faults), caught.value
