"""A side weir against De Marchi's closed form, against SciPy's integration of its equation, and the law along it."""

from __future__ import annotations

from math import asin, inf, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from overbank.hydraulics import sections, side_weir
from overbank.hydraulics.columns import columns
from overbank.site.numbers import run_named
from overbank.site.sections import section_parts

G = 9.81
CM = 0.60
C = 2.0 / 3.0 * CM * sqrt(2.0 * G)


def solved(
    shape: str, flow: object, below: object, energy: object, side: float = 0.0, width: float = 3.0, **numbers: object
) -> dict[str, NDArray[np.float64]]:
    code = {"rectangle": sections.RECTANGLE, "trapezoid": sections.TRAPEZOID}[shape]
    weir = {"bed": 0.0, "length": 4.0, "crest": 0.6, "coefficient": C, **numbers}
    weir["section"] = section_parts(code, width, 0.03, side_slope=side)
    laid = columns(side_weir.SideWeirRow, {"weir": weir, "flow": flow, "tailwater": below, "energy": energy})
    samples = max(np.size(each) for each in laid)
    return run_named(side_weir.side_weir_states, side_weir.SideWeirState._fields, laid, samples)


def function_of_de_marchi(y: float, e: float, p: float) -> float:
    return (2 * e - 3 * p) / (e - p) * sqrt((e - y) / (y - p)) - 3 * asin(sqrt((e - y) / (e - p)))


def by_de_marchi(y2: float, q2: float, length: float, crest: float) -> tuple[float, float]:
    """Depth and flow at the upper end of a crest along a channel 3 m wide."""
    e = y2 + (q2 / (3.0 * y2)) ** 2 / (2 * G)
    critical = 2.0 / 3.0 * e
    least = max(critical, crest * (1.0 + 1e-12))

    def missing(y: float) -> float:
        reach = 1.5 * 3.0 / CM * (function_of_de_marchi(y2, e, crest) - function_of_de_marchi(y, e, crest))
        return reach - length

    y1 = brentq(missing, least, y2, xtol=1e-14)
    return y1, 3.0 * y1 * sqrt(2 * G * (e - y1))


def test_a_side_weir_computed_apart() -> None:
    """Width 3 m, crest 0.6 m high and 4 m long, Cm 0.60, 1.0 m and 3 m3/s below it: De Marchi by plain Python."""
    found = solved("rectangle", 3.0, 1.0, 1.0)
    y1, q1 = by_de_marchi(1.0, 3.0, 4.0, 0.6)
    assert (q1, y1) == (pytest.approx(4.52759, abs=1e-5), pytest.approx(0.91113, abs=1e-5))
    assert found["flow_above"][0] == pytest.approx(q1, rel=1e-9)
    assert found["level"][0] == pytest.approx(y1, abs=1e-9)
    assert found["over_flow"][0] == pytest.approx(1.52759, abs=1e-5)
    assert found["energy"][0] == pytest.approx(1.0 + 1.0 / (2 * G), abs=1e-9)


def test_random_ones_by_the_closed_form() -> None:
    random = np.random.default_rng(4)
    flow, below = random.uniform(0.1, 3.0, 60), random.uniform(0.9, 1.6, 60)
    length, crest = random.uniform(0.5, 6.0, 60), random.uniform(0.3, 0.85, 60)
    found = solved("rectangle", flow, below, below, length=length, crest=crest)
    held = 0
    for i in range(60):
        if found["regime"][i] == side_weir.CRITICAL_ABOVE:
            continue  # the closed form ends at critical depth
        y1, q1 = by_de_marchi(below[i], flow[i], length[i], crest[i])
        assert found["flow_above"][i] == pytest.approx(q1, rel=1e-8), i
        assert found["depth"][i] == pytest.approx(y1, rel=1e-8), i
        held += 1
    assert held > 30


@pytest.mark.parametrize("side", [0.0, 0.5, 1.5, 3.0])
def test_any_sides_by_scipy(side: float) -> None:
    """dQ/ds = C h^1.5, the depth from the energy by bracketing; subcritical all along."""
    q2, y2, crest = 2.0, 1.1, 0.6

    def area(y: float) -> float:
        return (3.0 + side * y) * y

    energy = y2 + (q2 / area(y2)) ** 2 / (2 * G)

    def over(_s: float, q: NDArray[np.float64]) -> list[float]:
        y = brentq(lambda y: y + (q[0] / area(y)) ** 2 / (2 * G) - energy, 0.8, energy, xtol=1e-13)
        return [C * (y - crest) ** 1.5]

    run = solve_ivp(over, (0.0, 4.0), [q2], rtol=1e-11, atol=1e-12)
    found = solved("trapezoid", q2, y2, y2, side=side)
    assert found["flow_above"][0] == pytest.approx(run.y[0, -1], rel=1e-8)
    assert found["regime"][0] == side_weir.OVER_SIDE


def test_on_from_critical_depth_by_scipy() -> None:
    """From where the flow is critical, y = 2/3 E in a rectangle, on with y = (Q^2/(g B^2))^(1/3)."""
    q2, y2, crest = 2.0, 0.9, 0.2
    energy = y2 + (q2 / (3.0 * y2)) ** 2 / (2 * G)
    most = 3.0 * sqrt(G * (2.0 / 3.0 * energy) ** 3)

    def over(_s: float, q: NDArray[np.float64]) -> list[float]:
        if q[0] >= most:
            return [C * ((q[0] ** 2 / (9.0 * G)) ** (1 / 3) - crest) ** 1.5]
        y = brentq(lambda y: y + (q[0] / (3.0 * y)) ** 2 / (2 * G) - energy, 2.0 / 3.0 * energy, energy, xtol=1e-14)
        return [C * (y - crest) ** 1.5]

    run = solve_ivp(over, (0.0, 6.0), [q2], rtol=1e-10, atol=1e-12, max_step=0.002)
    found = solved("rectangle", q2, y2, y2, crest=crest, length=6.0)
    assert found["regime"][0] == side_weir.CRITICAL_ABOVE
    assert found["flow_above"][0] == pytest.approx(run.y[0, -1], rel=1e-5)


@pytest.mark.parametrize("side", [0.0, 1.5])
def test_an_endless_crest_by_its_closed_form(side: float) -> None:
    """Upstream the water comes down to the crest with its energy E kept: flow A(P) (2g (E - P))^0.5, subcritical."""
    q2, y2, crest = 2.0, 1.0, 0.85
    energy = y2 + (q2 / ((3.0 + side * y2) * y2)) ** 2 / (2 * G)
    most = (3.0 + side * crest) * crest * sqrt(2 * G * (energy - crest))
    lengths = np.array([1e2, 1e3, 1e4, 1e6])
    found = solved("trapezoid" if side else "rectangle", q2, y2, y2, side=side, length=lengths, crest=crest)
    short = most - found["flow_above"]
    assert np.all(found["regime"] == side_weir.OVER_SIDE)
    assert np.all(np.diff(short) < 0.0)
    assert short[-1] == pytest.approx(0.0, abs=1e-7 * most)
    assert found["level"][-1] == pytest.approx(crest, abs=1e-7)


def test_nothing_over_an_endless_level_and_critical_depth() -> None:
    dry = solved("rectangle", 1.0, 0.55, 0.55, crest=0.6)
    assert (dry["regime"][0], dry["over_flow"][0], dry["depth"][0]) == (side_weir.NONE_OVER, 0.0, pytest.approx(0.55))
    endless = solved("rectangle", 1.0, inf, inf)
    assert (endless["level"][0], endless["over_flow"][0]) == (inf, inf)
    long = solved("rectangle", 3.0, 0.9, 0.9, crest=0.1, length=60.0)
    assert long["regime"][0] == side_weir.CRITICAL_ABOVE
    assert long["froude"][0] == pytest.approx(1.0, abs=1e-6)


def test_more_below_is_more_above() -> None:
    """What the row asks for: the flow above and the energy rise with the flow below, and with the level below."""
    n = 2000
    rises = np.linspace(0.0, 6.0, n)
    for below in (0.5, 0.8, 1.5):
        found = solved("rectangle", rises, below, below, crest=0.4, length=12.0)
        assert np.min(np.diff(found["flow_above"])) > 0.0
        assert np.min(np.diff(found["energy"])) > -1e-9
    for flow in (0.0, 1.0, 4.0):
        found = solved("trapezoid", flow, np.linspace(0.0, 2.0, n), np.linspace(0.0, 2.0, n), side=1.0, length=12.0)
        assert np.min(np.diff(found["flow_above"])) >= -1e-9
        assert np.min(np.diff(found["energy"])) >= -1e-9


def test_the_published_coefficient_falls_with_the_froude_number() -> None:
    """Subramanya and Awasthy (1972), from memory, unverified: 0.864 ((1 - F^2)/(2 + F^2))^0.5 is the same curve."""
    for swift in (0.1, 0.4, 0.7, 0.95):
        known = 0.864 * sqrt((1.0 - swift**2) / (2.0 + swift**2))
        assert side_weir.subramanya_awasthy(swift) == pytest.approx(known, rel=1e-3)


def test_a_model_to_scale() -> None:
    """Froude's law: lengths by L, flows by L^2.5, the same coefficient, which is a number times g^0.5."""
    scale = 20.0
    large = solved("rectangle", 3.0, 1.0, 1.0)
    lengths = {"length": 4.0 / scale, "crest": 0.6 / scale}
    small = solved("rectangle", 3.0 / scale**2.5, 1.0 / scale, 1.0 / scale, width=3.0 / scale, **lengths)
    assert small["over_flow"][0] * scale**2.5 == pytest.approx(large["over_flow"][0], rel=1e-8)
    assert small["level"][0] * scale == pytest.approx(large["level"][0], rel=1e-8)
