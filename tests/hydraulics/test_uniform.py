"""Critical and normal depth, and depths of equal energy, against SciPy's brentq and the `fluids` library."""

from __future__ import annotations

from itertools import product
from math import inf, sqrt

import fluids
import numpy as np
import pytest
from scipy.optimize import brentq

from facts import each_holds
from overbank.hydraulics import sections as sec
from overbank.hydraulics import uniform

G = 9.81
SECTIONS = {
    "rectangle": sec.rectangle(3.0, 0.03),
    "trapezoid": sec.trapezoid(2.5, 1.5, 0.04),
    "triangle": sec.trapezoid(1e-9, 2.0, 0.03),
    "box": sec.box(2.4, 1.5, 0.014),
    "pipe": sec.pipe(1.8, 0.024),
    "silted pipe": sec.with_silt(sec.pipe(1.8, 0.024), 0.5),
    "arch": sec.arch(4.0, 1.8, 0.8, 0.017),
    "wide ellipse": sec.ellipse(3.0, 1.2, 0.013),
    "tall ellipse": sec.ellipse(1.0, 2.7, 0.013),
}
CLOSED = [name for name in SECTIONS if SECTIONS[name].rise < inf]


def critical_depth_solves_q2t_is_ga3(name: str, flow: float) -> None:
    s = SECTIONS[name]
    roof = sec.clear_height(s)

    def excess(y: float) -> float:
        return flow**2 * sec.top_width(s, y) - G * sec.area(s, y) ** 3

    high = roof * (1 - 1e-12) if roof < inf else 50.0
    found = uniform.critical_depth(s, flow)
    if excess(high) > 0:  # only a box can run full at critical depth
        assert found == pytest.approx(roof, rel=1e-8)
    else:
        assert found == pytest.approx(brentq(excess, 1e-12, high, xtol=1e-15, rtol=1e-14), rel=1e-8)
    energy = uniform.critical_energy(s, flow)
    least = min(uniform.specific_energy(s, flow, y) for y in found * np.linspace(0.5, 2, 301))
    assert energy <= least * (1 + 1e-9)


def test_critical_depth_solves_q2t_is_ga3() -> None:
    each_holds(product(SECTIONS, [1e-6, 0.01, 0.5, 3.0, 9.0, 60.0]), lambda row: critical_depth_solves_q2t_is_ga3(*row))


def normal_depth_is_the_lowest_root_of_manning(name: str, slope: float, flow: float) -> None:
    s = SECTIONS[name]
    roof = sec.clear_height(s)
    depths = np.linspace(1e-9, roof if roof < inf else 60.0, 12_001)[1:]
    excess = np.array([sec.conveyance(s, y) for y in depths]) * sqrt(slope) - flow
    above = np.flatnonzero(excess >= 0)
    found = uniform.normal_depth(s, flow, slope)
    if len(above) == 0:
        assert found == inf
    else:
        low = depths[above[0] - 1] if above[0] else 1e-12
        root = brentq(lambda y: sec.conveyance(s, y) * sqrt(slope) - flow, low, depths[above[0]], xtol=1e-14)
        assert found == pytest.approx(root, rel=1e-7, abs=1e-10)


def test_normal_depth_is_the_lowest_root_of_manning() -> None:
    each_holds(
        product(SECTIONS, [1e-5, 0.003, 0.08], [1e-4, 0.3, 4.0]),
        lambda row: normal_depth_is_the_lowest_root_of_manning(*row),
    )


def test_no_normal_depth_on_a_level_or_rising_bed() -> None:
    s = SECTIONS["trapezoid"]
    assert uniform.normal_depth(s, 1.0, 0.0) == inf
    assert uniform.normal_depth(s, 1.0, -0.01) == inf
    assert uniform.normal_depth(s, 0.0, 0.01) == 0.0


def test_manning_velocity_is_that_of_fluids() -> None:
    """`fluids.open_flow.V_Manning`, hydraulic radius and slope in SI."""
    s, slope, depth = SECTIONS["trapezoid"], 0.002, 1.3
    radius = sec.area(s, depth) / sec.wetted_perimeter(s, depth)
    flow = float(fluids.open_flow.V_Manning(radius, slope, 0.04)) * sec.area(s, depth)
    assert sec.conveyance(s, depth) * sqrt(slope) == pytest.approx(flow, rel=1e-12)
    assert uniform.normal_depth(s, flow, slope) == pytest.approx(depth, rel=1e-9)


def subcritical_depth_keeps_the_energy(name: str, share: float) -> None:
    s, flow = SECTIONS[name], 1.1
    critical = uniform.critical_depth(s, flow)
    energy = share * uniform.critical_energy(s, flow)
    found = uniform.subcritical_depth(s, flow, energy)
    assert found >= critical
    assert uniform.specific_energy(s, flow, found) == pytest.approx(energy, rel=1e-9)
    assert uniform.subcritical_depth(s, flow, 0.5 * energy / share) == critical
    assert uniform.subcritical_depth(s, flow, inf) == inf


def test_subcritical_depth_keeps_the_energy() -> None:
    each_holds(product(SECTIONS, [1.0, 1.0001, 1.05, 1.5, 20.0]), lambda row: subcritical_depth_keeps_the_energy(*row))


@pytest.mark.parametrize("name", SECTIONS)
def test_no_flow_has_no_depth_and_no_velocity_head(name: str) -> None:
    s = SECTIONS[name]
    assert uniform.critical_depth(s, 0.0) == 0.0
    assert uniform.critical_energy(s, 0.0) == 0.0
    assert uniform.velocity_head(s, 0.0, 0.0) == 0.0
    assert uniform.subcritical_depth(s, 0.0, 0.7) == pytest.approx(0.7)


@pytest.mark.parametrize("name", CLOSED)
def test_a_full_barrel_has_no_free_surface(name: str) -> None:
    s = SECTIONS[name]
    roof = sec.clear_height(s)
    assert uniform.froude(s, 2.0, roof) == 0.0
    full = 2.0 / sec.area(s, roof)
    assert uniform.specific_energy(s, 2.0, roof + 3.0) == pytest.approx(roof + 3.0 + full**2 / (2 * G))


def test_froude_number() -> None:
    s, flow = SECTIONS["rectangle"], 4.0
    assert uniform.froude(s, flow, uniform.critical_depth(s, flow)) == pytest.approx(1.0, rel=1e-12)
    assert uniform.froude(s, flow, 0.9) == pytest.approx(4.0 / 2.7 / sqrt(G * 0.9), rel=1e-14)
