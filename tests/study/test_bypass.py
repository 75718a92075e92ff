"""A screen with an open way beside it: a bypass or an emergency overflow, from a study to the level."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from overbank.errors import StudyError
from overbank.hydraulics import screens
from overbank.hydraulics.screens import Bypass
from overbank.report.worked import worked_case
from overbank.site.by_hand.steps import Case
from overbank.site.validity import remarks
from overbank.study.build import Problem, build
from small import BLOCKAGE, DEPENDENCE, ROAD, study


def bypassed(folder: Path, bypass: str, *changes: tuple[str, str], blockage: float = 0.8) -> Problem:
    table = f"[element.screen.bypass]\n{bypass}\n\n" if bypass else ""
    clean = ((BLOCKAGE, f"blockage = {blockage}"), (DEPENDENCE, ""))
    return build(study(folder, (ROAD, table + ROAD.replace("32.6", "39.0")), *clean, *changes))


def state(found: Problem, **numbers: float) -> dict[str, float]:
    values = {**found.medians(), "flow.design_m3_s": 5.0, **numbers}
    lane = found.site.march(values, 1).element("lane")
    return {name: float(value[0]) for name, value in lane.results.items()}


def plain_head(flow: float, behind: float, bypass: tuple[float, float, float], blockage: float) -> float:
    """Head before bars of 20 mm at 125 mm, 3.6 by 1.9 m, and a weir beside and one over them: by SciPy.

    Bars: contraction and sudden expansion behind what is open, not more than 0.6 of free slots; weirs: Villemonte.
    """
    clear = 0.125 / 0.145 * (1 - blockage)
    loss = max(
        (1 / (clear * (0.62 + 0.38 * clear**3)) - 1) ** 2, 2.42 * (0.02 / 0.125) ** (4 / 3) / (1 - blockage) ** 2
    )

    def weir(head: float, width: float, top: float, coefficient: float) -> float:
        up, down = head - top, behind - top
        if up <= 0:
            return 0.0
        drowned = (1 - (max(down, 0.0) / up) ** 1.5) ** 0.385 if down < up else 0.0
        return coefficient * width * up**1.5 * drowned

    def passed(head: float) -> float:
        top = min(1.9, head)
        wet = min(behind, top)
        past = wet * (head - behind) ** 0.5 + 2 / 3 * ((head - wet) ** 1.5 - (head - top) ** 1.5)
        bars = 19.62**0.5 * 3.6 * past / loss**0.5
        free = 0.6 * 19.62**0.5 * 3.6 * clear * 2 / 3 * (head**1.5 - (head - top) ** 1.5)
        return min(bars, free) + weir(head, 3.6, 1.9, 1.7) + weir(head, *bypass)

    return float(brentq(lambda head: passed(head) - flow, behind + 1e-12, behind + 20, xtol=1e-12))


@pytest.mark.parametrize(("width", "top"), [(0.8, 0.0), (0.8, 0.9), (2.0, 1.5), (0.3, 2.4)])
@pytest.mark.parametrize("blockage", [0.0, 0.6, 0.95])
def test_bars_and_the_way_beside_them_by_scipy(width: float, top: float, blockage: float) -> None:
    clean = 2.42 * (0.02 / 0.125) ** (4 / 3)
    for flow, behind in ((1.0, 0.4), (5.0, 1.1), (9.0, 2.0)):
        beside = Bypass(width, top, 1.7)
        own = (3.6, 1.9, 0.125 / 0.145, clean, screens.FREE_SLOT_COEFFICIENT, blockage, 0.0, 1.7, 1.0, beside)
        expected = plain_head(flow, behind, (width, top, 1.7), blockage)
        assert screens.screen_head(flow, behind, *own) == pytest.approx(expected, abs=1e-6)


def test_what_goes_beside_the_screen(tmp_path: Path) -> None:
    none = state(bypassed(tmp_path / "none", ""))
    beside = state(bypassed(tmp_path / "beside", "width_m = 0.8"))
    high = state(bypassed(tmp_path / "high", "width_m = 3.0\nsill_level_m = 31.9"))
    away = state(bypassed(tmp_path / "away", "width_m = 3.0\nsill_level_m = 36.0"))
    assert none["bypass_flow"] == away["bypass_flow"] == 0.0
    assert away["level"] == pytest.approx(none["level"], abs=1e-7)
    assert 0.0 < beside["bypass_flow"] < 5.0
    assert beside["level"] < none["level"]
    assert beside["screen_velocity"] < none["screen_velocity"]
    assert high["level"] <= none["level"]


def test_an_overflow_keeps_a_shut_screen_from_an_endless_level(tmp_path: Path) -> None:
    """All bars shut, no way over them: without a way beside them no level, with one all of the flow over its crest."""
    closed = ("overflow = true", "overflow = false")
    found = bypassed(tmp_path, "width_m = 3.0\nsill_level_m = 31.6", closed, blockage=1.0)
    got = state(found)
    assert got["bypass_flow"] == pytest.approx(5.0, rel=1e-6)
    head = (5.0 / (1.7 * 3.0)) ** (2 / 3)
    assert got["level"] == pytest.approx(31.6 + head, abs=1e-3)  # free: the water behind stands lower
    assert got["barrel_level"] < 31.6


def test_worked_by_hand_and_said(tmp_path: Path) -> None:
    found = bypassed(tmp_path, "width_m = 0.8\nsill_level_m = 30.4")
    once = found.site.march(found.medians(), 1)
    worked = worked_case(Case(found.medians(), "lane", once))
    said = {step.symbol: step.result for step in worked.steps}
    assert said["Qw"] == pytest.approx(float(once.element("lane").results["bypass_flow"][0]), rel=1e-6)
    assert said["Qs"] == pytest.approx(float(once.element("lane").results["barrel_flow"][0]), rel=1e-4)
    words = {each.words for each in remarks(found.site, once, found.medians())}
    assert "water beside the screen: what it carries is not caught" in words


def test_a_way_beside_the_bars_does_not_begin_below_them(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match="does not begin below their sill"):
        bypassed(
            tmp_path, "width_m = 0.8\nsill_level_m = 29.0", ("overflow = true", "overflow = true\nsill_level_m = 30.1")
        )
    with pytest.raises(StudyError, match="the clear width of the way beside the bars"):
        bypassed(tmp_path / "b", "coefficient = 1.7")


def test_the_level_never_falls_with_debris_on_the_bars(tmp_path: Path) -> None:
    found = bypassed(tmp_path, "width_m = 0.8\nsill_level_m = 30.6")
    shares = np.linspace(0.0, 1.0, 41)
    level = found.site.march({**found.medians(), "lane.screen.blockage": shares}, 41).element("lane").level
    assert np.all(np.diff(level) >= -1e-7)
    assert np.isfinite(level).all()
