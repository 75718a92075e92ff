"""Shapes of a flood against published ordinates, closed forms and SciPy's quadrature."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some
from scipy.integrate import quad
from scipy.optimize import brentq

from overbank.hydraulics.hydrographs import SCS_UNIT, Gamma, Polygon, Shape, Triangle, flow

ONE = np.ones(1)
SHAPES = [(Triangle(), 1.67), (Gamma(), 3.69688), (Gamma(), 1.5), (SCS_UNIT, 1.0)]


def above(shape: Shape, parameter: float, share: float) -> tuple[float, float]:
    time, volume = shape.above(np.array([share]), np.array([parameter]))
    return float(time[0]), float(volume[0])


def test_a_triangle_stands_above_a_share_as_its_closed_form_says() -> None:
    """(1 - r) Tb and (1 - r)^2 of the volume, by similar triangles."""
    base = 1.0 + 1.67
    for share in (0.0, 0.25, 0.5, 0.9, 1.0):
        time, volume = above(Triangle(), 1.67, share)
        assert time == pytest.approx((1.0 - share) * base, rel=1e-12)
        assert volume == pytest.approx((1.0 - share) ** 2 * base / 2.0, rel=1e-12)


@pytest.mark.parametrize(("share", "time", "volume"), [(0.5, 1.23752, 0.286412), (0.9, 0.47825, 0.023645)])
def test_a_gamma_flood_stands_above_a_share_as_computed_elsewhere(share: float, time: float, volume: float) -> None:
    """Computed apart in plain Python, for the exponent of the SCS peak rate factor 484 (own calculation)."""
    found = above(Gamma(), 3.69688, share)
    whole = quad(lambda x: float(Gamma().share(np.array([x]), 3.69688 * ONE)[0]), 0.0, 40.0)[0]
    assert found[0] == pytest.approx(time, abs=5e-6)
    assert found[1] / whole == pytest.approx(volume, abs=5e-7)


def test_the_scs_unit_shape_has_its_volume_and_its_ordinates() -> None:
    """National Engineering Handbook part 630, ch. 16 (second hand): 1.33595 Qp Tp by trapezia."""
    assert above(SCS_UNIT, 1.0, 0.0)[1] == pytest.approx(1.33595, abs=5e-6)
    found = SCS_UNIT.share(np.array([0.0, 0.5, 1.0, 1.5, 2.6, 5.0, 6.0]), np.ones(7))
    assert found.tolist() == pytest.approx([0.0, 0.47, 1.0, 0.68, 0.107, 0.0, 0.0], abs=1e-12)


@pytest.mark.parametrize(("shape", "parameter"), SHAPES)
@pytest.mark.parametrize("share", [0.05, 0.3, 0.62, 0.97])
def test_time_and_volume_above_a_share_are_those_of_quadrature(shape: Shape, parameter: float, share: float) -> None:
    """SciPy: roots on both limbs, and adaptive quadrature between them."""

    def excess(x: float) -> float:
        return float(shape.share(np.array([x]), parameter * ONE)[0]) - share

    end = float(shape.end(parameter * ONE)[0])
    first, last = brentq(excess, 0.0, 1.0, xtol=1e-13), brentq(excess, 1.0, end, xtol=1e-13)
    nodes = [x for x in SCS_UNIT.times if first < x < last] if isinstance(shape, Polygon) else [1.0]
    volume = quad(excess, first, last, points=nodes, limit=200)[0]
    assert above(shape, parameter, share) == pytest.approx((last - first, volume), abs=2e-7)


@pytest.mark.parametrize(("shape", "parameter"), SHAPES)
def test_nothing_stands_above_the_peak(shape: Shape, parameter: float) -> None:
    assert above(shape, parameter, 1.0) == pytest.approx((0.0, 0.0), abs=1e-12)
    assert above(shape, parameter, 1.3) == pytest.approx((0.0, 0.0), abs=1e-12)
    assert float(shape.share(ONE, parameter * ONE)[0]) == pytest.approx(1.0, abs=1e-15)


def test_a_flat_crest_of_a_table_counts_in_full() -> None:
    """By hand: a trapezium that stands at its peak from 1 to 3."""
    flat = Polygon((0.0, 1.0, 3.0, 4.0), (0.0, 1.0, 1.0, 0.0))
    assert above(flat, 1.0, 0.5) == pytest.approx((3.0, 1.25), abs=1e-12)


@given(some.floats(0.0, 1.0), some.floats(0.01, 50.0), some.floats(1.0, 3.0), some.floats(0.0, 20.0))
def test_the_flow_never_falls_when_the_peak_rises(share: float, peak: float, factor: float, base: float) -> None:
    at = [np.array([number]) for number in (share, peak, base)]
    assert flow(at[0], factor * at[1], at[2])[0] >= flow(at[0], at[1], at[2])[0] - 1e-12
