"""Roads and crests whose level changes along them: closed forms, and the published equation by SciPy's quadrature."""

from __future__ import annotations

from itertools import pairwise
from math import inf, pi, sqrt

import numpy as np
import pytest
from scipy.integrate import quad

from overbank.hydraulics import crest_line, crests, weir_level, weirs
from overbank.hydraulics import sections as sec

SAG = np.array([[x, 0.0003 * (x - 40.0) ** 2] for x in np.linspace(0.0, 80.0, 801)])
"""A parabolic sag, z = k x^2 with k 0.0003 m^-1."""

UNEVEN = np.array([[0.0, 0.9], [12.0, 0.35], [20.0, 0.35], [20.0, 0.1], [31.0, 0.0], [50.0, 0.7]])
"""A sloping part, a level one, a step, a low point, a rise."""


def free(line: np.ndarray, head: float, coefficient: float) -> float:
    """Closed form of a straight part, 2/5 C L (h2^2.5 - h1^2.5) / (h2 - h1), its dry end at no head."""
    total = 0.0
    for (x1, z1), (x2, z2) in pairwise(line):
        if x2 == x1:
            continue
        one, other = head - z1, head - z2
        if abs(other - one) < 1e-12:
            total += (x2 - x1) * max(one, 0.0) ** 1.5
        else:
            total += 0.4 * (x2 - x1) * (max(other, 0.0) ** 2.5 - max(one, 0.0) ** 2.5) / (other - one)
    return coefficient * total


@pytest.mark.parametrize("head", [0.05, 0.2, 0.35, 0.5, 1.4])
def test_free_flow_is_the_closed_form_of_each_part(head: float) -> None:
    assert crest_line.road_line_flow(UNEVEN, head, -inf, 1.6) == pytest.approx(free(UNEVEN, head, 1.6), rel=1e-12)
    got = crest_line.crest_line_flow(UNEVEN, head, head, -inf, -inf, 1.7, 0.6)
    assert got == pytest.approx(free(UNEVEN, head, 1.7), rel=1e-12)


def test_a_parabolic_sag() -> None:
    """Q = C (3 pi / 8) H^2 / sqrt(k), exact; H 0.3 m, k 0.0003, C 1.66: 10.1618 m3/s."""
    exact = 1.66 * 3.0 * pi / 8.0 * 0.3**2 / sqrt(0.0003)
    assert exact == pytest.approx(10.1618, abs=1e-4)
    assert crest_line.road_line_flow(SAG, 0.3, -inf, 1.66) == pytest.approx(exact, rel=1e-4)


def test_level_parts_are_level_roads_and_add_up() -> None:
    """5, 10 and 30 m with heads of 0.8, 0.5 and 0.2 m: 16.703 m3/s at C 1.705, the parts added (compound crests)."""
    line = np.array([[0.0, 0.0], [5.0, 0.0], [5.0, 0.3], [15.0, 0.3], [15.0, 0.6], [45.0, 0.6]])
    parts = [1.705 * length * head**1.5 for length, head in ((5.0, 0.8), (10.0, 0.5), (30.0, 0.2))]
    assert sum(parts) == pytest.approx(16.703, abs=2e-3)
    assert crest_line.road_line_flow(line, 0.8, -inf, 1.705) == pytest.approx(sum(parts), rel=1e-12)
    level = np.array([[0.0, 0.0], [14.0, 0.0]])
    for head, below in ((0.4, -1.0), (0.4, 0.35), (0.4, 0.395), (0.4, 0.4)):
        assert crest_line.road_line_flow(level, head, below, 1.55) == pytest.approx(
            weirs.road_flow(head, below, 14.0, 1.55), rel=1e-12
        )


@pytest.mark.parametrize(("head", "below"), [(0.6, 0.3), (0.6, 0.5), (0.6, 0.55), (0.6, 0.595), (1.3, 1.25)])
def test_drowned_parts_are_the_integral_over_the_line(head: float, below: float) -> None:
    """Each place drowned as a level road is: kt by its own definition, integrated along the line by SciPy."""

    def rate(h: float, drop: float) -> float:
        past = min(max((1.0 - drop / h - 0.8) / 0.2, 0.0), 1.0)
        return sqrt(1.0 - past**2) * h**1.5

    total = 0.0
    for (x1, z1), (x2, z2) in pairwise(UNEVEN):
        if x2 > x1:

            def along(x: float, x1=x1, z1=z1, x2=x2, z2=z2) -> float:
                h = head - z1 - (z2 - z1) * (x - x1) / (x2 - x1)
                return rate(h, head - below) if h > 0.0 else 0.0

            edges = np.linspace(x1, x2, 21)
            total += sum(quad(along, a, b, epsabs=1e-10)[0] for a, b in pairwise(edges))
    assert crest_line.road_line_flow(UNEVEN, head, below, 1.6) == pytest.approx(1.6 * total, rel=1e-3)


@pytest.mark.parametrize("below", [-1.0, 0.2, 0.45, 0.9])
def test_the_head_passes_the_flow_and_never_falls(below: float) -> None:
    heads = []
    for flow in np.concatenate([[1e-9], np.geomspace(1e-4, 200.0, 80)]):
        head = crest_line.road_line_head(UNEVEN, flow, below, 1.6)
        low, high = (crest_line.road_line_flow(UNEVEN, head + d, below, 1.6) for d in (-2e-9, 2e-9))
        assert low * (1.0 - 1e-9) <= flow <= high * (1.0 + 1e-9)
        heads.append(head)
    assert np.all(np.diff(heads) >= -1e-9)
    assert heads[0] == pytest.approx(max(below, 0.0), abs=2e-3)
    assert crest_line.road_line_head(UNEVEN, 0.0, below, 1.6) == max(below, 0.0)
    assert crest_line.road_line_head(UNEVEN, 3.0, inf, 1.6) == inf


def test_the_flow_never_falls_with_the_level_nor_rises_with_that_below() -> None:
    """Steps of a millimetre, the part wet at its end or over its length, free and drowned."""
    levels = np.arange(0.001, 1.5, 0.001)
    for below in (-1.0, 0.1, 0.36, 0.7):
        flows = [crest_line.road_line_flow(UNEVEN, max(head, below), below, 1.6) for head in levels]
        assert np.all(np.diff(flows) >= 0.0)
    for head in (0.2, 0.6, 1.2):
        flows = [crest_line.road_line_flow(UNEVEN, head, below, 1.6) for below in np.linspace(-0.2, head, 700)]
        assert np.all(np.diff(flows) <= 1e-12)
        assert flows[-1] == 0.0


def crest(line: np.ndarray | None, coefficient: float = 1.7, width: float = 12.0) -> weir_level.Crest:
    kind = crests.GIVEN if line is None else crests.UNEVEN
    lay = (float(kind), 11.0, width, 0.0, 0.0, 0.0, 1.0, coefficient, 0.6, 10.0, None, line)
    return weir_level.Crest(sec.rectangle(12.0, 0.03), weir_level.NO_PLATE, *lay)


@pytest.mark.parametrize("below", [10.4, 11.5, 12.3])
def test_a_level_line_is_the_crest_with_a_given_coefficient(below: float) -> None:
    """Where the crest is not so low and drowned that the level one is taken for a bump."""
    level = np.array([[0.0, 0.0], [7.0, 0.0], [12.0, 0.0]])
    for flow in (0.0, 2.0, 9.0, 25.0):
        plain = weir_level.weir_state(crest(None), flow, below, below)
        if plain.regime != weir_level.LOW_SILL:
            got = weir_level.weir_state(crest(level), flow, below, below)
            assert got.level == pytest.approx(plain.level, abs=1e-8)
            assert got.regime == plain.regime
            assert got.drowned_factor == pytest.approx(plain.drowned_factor, abs=1e-6)


def test_an_uneven_crest_in_its_channel() -> None:
    """Free: the closed form from the energy head, the velocity that of the channel; the level never falls."""
    line = np.array([[0.0, 0.4], [4.0, 0.0], [6.0, 0.0], [12.0, 0.8]])
    for flow in (0.5, 4.0, 15.0):
        state = weir_level.weir_state(crest(line), flow, 10.2, 10.2)
        energy = state.level - 11.0 + (flow / (12.0 * (state.level - 10.0))) ** 2 / 19.62
        assert free(line, energy, 1.7) == pytest.approx(flow, rel=1e-6)
        assert state.regime == weir_level.FREE
    for below in (10.5, 11.3, 12.5):
        levels = [weir_level.weir_level(crest(line), flow, below, below) for flow in np.geomspace(1e-3, 60.0, 60)]
        assert np.all(np.diff(levels) >= -1e-9)
    for flow in (1.0, 8.0):
        levels = [weir_level.weir_level(crest(line), flow, below, below) for below in np.linspace(10.0, 14.0, 300)]
        assert np.all(np.diff(levels) >= -1e-9)
        drowned = weir_level.weir_state(crest(line), flow, 12.5, 12.5)
        assert drowned.regime == weir_level.DROWNED
        assert 0.0 < drowned.drowned_factor < 1.0
