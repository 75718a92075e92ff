"""Published bridge methods: against each other, against balances written out again, at their limits, and scaled."""

from __future__ import annotations

from collections.abc import Callable
from math import sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

from overbank.hydraulics import afflux, bridge_methods, sections, uniform
from overbank.hydraulics.tables import read_table

FLOW, WIDTH, DEPTH = 120.0, 30.0, 2.5
G = 9.81


def pier_k(pier: str) -> float:
    return next(float(row["yarnell_k"]) for row in read_table("pier_shapes") if row["id"] == pier)


def test_yarnell_agrees_with_momentum_and_drag() -> None:
    """Two routes to the same pier: semicircular ends, drag coefficient about 1.33 (from memory): within 2.4 %."""
    yarnell = afflux.yarnell_afflux(pier_k("semicircular"), FLOW, WIDTH, 3.0, DEPTH)
    drag = afflux.drag_afflux(1.33, FLOW, WIDTH, 3.0, DEPTH)
    assert yarnell / drag == pytest.approx(1.024, abs=0.002)


def test_blunter_piers_raise_the_water_more() -> None:
    shapes = [float(row["yarnell_k"]) for row in read_table("pier_shapes")]
    raises = [afflux.yarnell_afflux(k, FLOW, WIDTH, 3.0, DEPTH) for k in shapes]
    assert np.all(np.diff(raises) >= 0.0)
    assert raises[-1] > 3.0 * raises[0]


METHODS: dict[str, Callable[[float, float, float, float], float]] = {
    "yarnell": lambda q, b, w, y: afflux.yarnell_afflux(0.9, q, b, w, y),
    "drag": lambda q, b, w, y: afflux.drag_afflux(1.33, q, b, w, y),
    "d'aubuisson": lambda q, b, w, y: afflux.daubuisson_afflux(0.95, q, b, b - w, y),
    "contraction": lambda q, b, w, y: bridge_methods.contraction_backwater(
        bridge_methods.borda_loss(1.0 - w / b), q, (b - w) * y, b * y, b, y, 1.0, 1.0
    ),
    "biery and delleur": lambda q, b, w, y: y * bridge_methods.biery_delleur(q / (b * y) / sqrt(G * y), 1.0 - w / b),
}
"""Afflux by each method for flow, width, width of all piers, depth downstream."""


@pytest.mark.parametrize("name", METHODS)
def test_more_piers_and_more_flow_raise_the_water(name: str) -> None:
    method = METHODS[name]
    by_piers = [method(FLOW, WIDTH, w, DEPTH) for w in (1.5, 3.0, 4.5, 6.0)]
    by_flow = [method(q, WIDTH, 3.0, DEPTH) for q in (60.0, 90.0, 120.0, 150.0)]
    assert by_piers[0] > 0.0
    assert np.all(np.diff(by_piers) > 0.0)
    assert np.all(np.diff(by_flow) > 0.0)


@pytest.mark.parametrize("name", ["yarnell", "drag", "contraction"])
def test_no_piers_raise_nothing(name: str) -> None:
    assert METHODS[name](FLOW, WIDTH, 0.0, DEPTH) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("name", METHODS)
def test_froude_scaling(name: str) -> None:
    """All lengths by 25, the flow by 25^2.5: the afflux by 25."""
    large = METHODS[name](FLOW, WIDTH, 3.0, DEPTH)
    small = METHODS[name](FLOW / 25.0**2.5, WIDTH / 25.0, 3.0 / 25.0, DEPTH / 25.0)
    assert large / small == pytest.approx(25.0, rel=1e-9)


def test_molesworth_has_dimensions_and_does_not_scale() -> None:
    """Its 0.01524 m stays: even still water is raised."""
    assert afflux.molesworth_afflux(0.0, 0.9) == pytest.approx(0.01524 * (1.0 / 0.81 - 1.0))
    assert afflux.molesworth_afflux(1.6, 1.0) == 0.0
    small = afflux.molesworth_afflux(1.6 / 5.0, 0.9)
    assert afflux.molesworth_afflux(1.6, 0.9) / small < 12.0


def test_daubuisson_is_ill_conditioned() -> None:
    """10 % in the coefficient changes the afflux by more than a factor of two; 0 when it gives no rise at all."""
    raises = [afflux.daubuisson_afflux(k, FLOW, WIDTH, 27.0, DEPTH) for k in (0.9, 1.0, 1.1, 1.3)]
    assert raises[0] > 2.0 * raises[1]
    assert raises[1] > 10.0 * raises[2]
    assert raises[3] == 0.0


def test_daubuisson_satisfies_its_equation() -> None:
    rise = afflux.daubuisson_afflux(0.9, FLOW, WIDTH, 27.0, DEPTH)
    upstream = FLOW / (WIDTH * (DEPTH + rise))
    assert 0.9 * 27.0 * DEPTH * sqrt(2.0 * G * rise + upstream**2) == pytest.approx(FLOW, rel=1e-12)


@pytest.mark.parametrize("froude", [0.1, 0.3, 0.5, 0.7, 0.9, 0.99])
def test_choking_limit_from_momentum_written_out_again(froude: float) -> None:
    """Critical depth in the share s of the width, pressure on the pier ends at that depth, momentum kept below."""
    depth, width = 2.0, 1.0
    flow = froude * sqrt(G * depth) * depth * width

    def momentum_left(share: float) -> float:
        between = ((flow / (share * width)) ** 2 / G) ** (1.0 / 3.0)
        there = 0.5 * width * between**2 + flow**2 / (G * share * width * between)
        return there - 0.5 * width * depth**2 - flow**2 / (G * width * depth)

    assert afflux.choking_limit(froude) == pytest.approx(brentq(momentum_left, 1e-3, 1.0), rel=1e-9)


def test_choking_limit_at_its_ends() -> None:
    assert afflux.choking_limit(0.0) == 0.0
    assert afflux.choking_limit(1.0) == afflux.choking_limit(1.5) == 1.0


@pytest.mark.parametrize("loss", [0.0, 0.18, 0.35])
def test_choked_piers_keep_energy(loss: float) -> None:
    between, upstream = afflux.choked_depths(loss, 150.0, 20.0, 13.0)
    head = (150.0 / (20.0 * upstream)) ** 2 / (2.0 * G)
    assert upstream + head == pytest.approx(1.5 * between + loss * head, rel=1e-12)
    assert between == pytest.approx(uniform.critical_depth(sections.rectangle(13.0, 0.03), 150.0), rel=1e-12)
    if loss == 0.0:  # the deep depth of the energy between the piers
        deep = uniform.subcritical_depth(sections.rectangle(20.0, 0.03), 150.0, 1.5 * between)
        assert upstream == pytest.approx(deep, rel=1e-9)


def test_contraction_backwater_satisfies_its_equation_and_counts_from_normal_level() -> None:
    rise = bridge_methods.contraction_backwater(1.15, 150.0, 60.0, 150.0, 60.0, 2.5, 1.3, 1.5)
    head = (150.0 / 60.0) ** 2 / (2.0 * G)
    upstream = 60.0 * (2.5 + rise)
    right = 1.15 * 1.3 * head + 1.5 * ((60.0 / 150.0) ** 2 - (60.0 / upstream) ** 2) * head
    assert rise == pytest.approx(right, rel=1e-12)


def test_leaving_out_the_energy_coefficients_takes_a_quarter_off_the_backwater() -> None:
    with_alpha = bridge_methods.contraction_backwater(1.15, 150.0, 60.0, 150.0, 60.0, 2.5, 1.3, 1.5)
    without = bridge_methods.contraction_backwater(1.15, 150.0, 60.0, 150.0, 60.0, 2.5, 1.0, 1.0)
    assert without / with_alpha == pytest.approx(0.758, abs=0.001)


def test_borda_loss_vanishes_with_the_contraction() -> None:
    ratios = np.linspace(0.2, 1.0, 50)
    losses = np.array([bridge_methods.borda_loss(m) for m in ratios])
    assert np.all(np.diff(losses) < 0.0)
    assert losses[-1] == 0.0


def test_biery_and_delleur_in_its_other_form() -> None:
    """0.47 (Fr^(2/3) / M^(2/3))^3.39, as it is also remembered."""
    other = 0.47 * (0.3 ** (2.0 / 3.0) / 0.6 ** (2.0 / 3.0)) ** 3.39
    assert bridge_methods.biery_delleur(0.3, 0.6) == pytest.approx(other, rel=1e-9)


def test_pressure_formulas_as_printed_do_not_meet_at_the_soffit() -> None:
    """Why a bridge must blend them: water just at the soffit, level below just wetting it, give two flows."""
    sluice = bridge_methods.sluice_flow(0.5, 8.0, 2.0, 2.0)
    orifice = bridge_methods.orifice_flow(0.8, 8.0, 2.0, 0.0)
    assert sluice > 30.0
    assert orifice == 0.0
    assert bridge_methods.sluice_flow(0.5, 8.0, 2.0, 0.9) == 0.0
    assert bridge_methods.orifice_flow(0.8, 8.0, 2.0, -0.1) == 0.0


def test_skew_is_projected_once() -> None:
    """20 m along the road at 30 degrees are 17.32 m square to the flow; projected twice they would be 15."""
    once = afflux.projected_opening(20.0, 30.0)
    assert once == pytest.approx(17.3205, rel=1e-6)
    assert afflux.projected_opening(once, 30.0) == pytest.approx(15.0)
    assert afflux.projected_opening(20.0, 0.0) == 20.0
