"""A tapered entrance: the published equations by hand, face and throat each with its own dimensions, and laws."""

from __future__ import annotations

from math import inf, sqrt

import numpy as np
import pytest

from overbank.hydraulics import culverts, screens, sections, tapered, uniform
from overbank.hydraulics.culverts import InletRow
from overbank.hydraulics.outlet_control import Lay
from overbank.hydraulics.tables import InletEntry, inlets
from overbank.hydraulics.tapered import Face

BOX, FACES = "box", [entry for (shape, edge), entry in inlets().items() if shape == "box" and "tapered face" in edge]
ROUND = [entry for (shape, edge), entry in inlets().items() if shape == "pipe" and "tapered face" in edge]
SIDE = inlets()[BOX, "side-tapered face, less favourable edges"]
THROAT = inlets()[BOX, "tapered throat"]
BARREL = sections.box(2.0, 1.5, 0.013)
SLOPE, LENGTH, INVERT = 0.01, 30.0, 10.3
KU = 1.811  # = sqrt(1/0.3048), from SI to the scale of the constants


def row_of(entry: InletEntry) -> InletRow:
    return InletRow(float(entry.form), entry.K, entry.M, entry.c, entry.Y, entry.slope_factor)


FACE = Face(row_of(SIDE), 3.0, 1.6, 10.4)


def levels(flow: float, face: Face = FACE, tailwater: float = 0.5, blockage: float = 0.0, pattern: float = 0.0):
    """Face, throat and outlet control of a box 2 m by 1.5 m."""
    return tapered.tapered_levels(
        face, BARREL, flow, Lay(SLOPE, LENGTH, tailwater, 0.2, 1.0), INVERT, row_of(THROAT), 1.0, blockage, pattern
    )


def by_hand(entry: InletEntry, flow: float, area: float, height: float) -> float:
    """Form 2 of HDS-5, appendix A: H/D = K q^M below a discharge intensity of 3.5, c q^2 + Y - 0.5 S from 4.0."""
    q = KU * flow / (area * sqrt(height))
    assert not 3.5 < q < 4.0
    return height * (entry.K * q**entry.M if q <= 3.5 else entry.c * q**2 + entry.Y - 0.5 * SLOPE)


@pytest.mark.parametrize("flow", [3.0, 6.0, 9.0, 15.0, 20.0])
@pytest.mark.parametrize("entry", FACES, ids=lambda entry: entry.id)
def test_the_face_takes_its_own_width_height_and_invert(entry: InletEntry, flow: float) -> None:
    found, throat, _ = levels(flow, FACE._replace(row=row_of(entry)))
    assert found == pytest.approx(10.4 + by_hand(entry, flow, 3.0 * 1.6, 1.6), abs=2e-3)
    assert throat == pytest.approx(10.3 + by_hand(THROAT, flow, 2.0 * 1.5, 1.5), abs=2e-3)


def test_values_computed_independently_of_the_throat() -> None:
    """Box 2 m by 1.5 m, S 0.01: 2.39 m at an intensity of 5.9 (12 m3/s), 1.47 m at 3.0 (6 m3/s)."""
    for flow, head in ((12.0, 2.39), (6.0, 1.47)):
        assert levels(flow)[1] - INVERT == pytest.approx(head, abs=0.005)


@pytest.mark.parametrize("entry", ROUND, ids=lambda entry: entry.id)
def test_before_a_pipe_the_face_is_an_ellipse(entry: InletEntry) -> None:
    pipe = sections.pipe(1.5, 0.013)
    face = Face(row_of(entry), 2.0, 1.6, 10.0)
    area = np.pi / 4 * 2.0 * 1.6
    for flow in (1.5, 3.0, 8.0):
        level = tapered.face_level(face, pipe, flow, SLOPE, 1.0, 0.0, 0.0)
        least = uniform.critical_energy(sections.ellipse(2.0, 1.6, 0.013), flow)
        assert level == pytest.approx(10.0 + max(by_hand(entry, flow, area, 1.6), least), abs=2e-3)


def test_the_face_governs_at_low_flow_the_throat_above() -> None:
    """HDS-5, p. 85-87, of the two controls at the entrance."""
    low, high = levels(3.0), levels(14.0)
    assert low[0] > low[1]
    assert high[1] > high[0]


def test_a_face_like_the_barrel_is_the_barrel() -> None:
    """With the barrel's dimensions, constants and invert face and throat are the same control."""
    same = Face(row_of(THROAT), 2.0, 1.5, INVERT)
    for flow in (0.5, 5.0, 15.0):
        face, throat, outlet = levels(flow, same)
        assert face == pytest.approx(throat, abs=1e-9)
        heads = culverts.barrel_heads(BARREL, flow, Lay(SLOPE, LENGTH, 0.5, 0.2, 1.0), row_of(THROAT), 1.0, 0.0, 0.0)
        assert (throat, outlet) == pytest.approx((INVERT + heads[0], INVERT + heads[1]), abs=1e-12)


def test_debris_at_the_face_leaves_the_throat_clean_silt_does_not() -> None:
    clean = levels(10.0)
    for pattern in (0.0, 1.0):
        face, throat, outlet = levels(10.0, blockage=0.4, pattern=pattern)
        assert face > clean[0]
        assert throat == clean[1]
        assert outlet > clean[2]
    silted = levels(10.0, blockage=0.4, pattern=2.0)
    assert np.all(np.array(silted) > clean)
    heads = culverts.barrel_heads(BARREL, 10.0, Lay(SLOPE, LENGTH, 0.5, 0.2, 1.0), row_of(THROAT), 1.0, 0.4, 2.0)
    assert silted[1:] == pytest.approx((INVERT + heads[0], INVERT + heads[1]), abs=1e-12)  # the barrel's, and no more
    spread = levels(10.0, blockage=0.4, pattern=0.0)[0]
    assert spread == pytest.approx(10.4 + by_hand(SIDE, 10.0 / 0.6, 3.0 * 1.6, 1.6), abs=2e-3)


def test_no_water_passes_over_debris_on_the_face() -> None:
    """Deep behind and in front: one loss on the velocity in the gross face, though the water stands above it."""
    flow, tailwater, blockage = 12.0, 3.0, 0.6
    clean, blocked = (levels(flow, tailwater=tailwater, blockage=share)[2] for share in (0.0, blockage))
    loss = screens.screen_loss(1.0, 0.0, blockage)
    assert clean > 10.4 + 1.6
    assert blocked == pytest.approx(clean + loss * (flow / (3.0 * 1.6)) ** 2 / (2 * 9.81), abs=1e-4)


def test_shut() -> None:
    assert levels(5.0, blockage=1.0, pattern=1.0) == (inf, inf, inf)


@pytest.mark.parametrize("pattern", [0.0, 1.0, 2.0])
def test_no_level_falls(pattern: float) -> None:
    """2000 random entrances: with more flow, more blockage, a higher tailwater."""
    draw = np.random.default_rng(4)
    row, throat = row_of(SIDE), row_of(THROAT)
    for _ in range(2000):
        s = sections.box(draw.uniform(0.8, 4.0), draw.uniform(0.8, 3.0), 0.014)
        width, height = s.width * draw.uniform(1.0, 1.8), s.rise * draw.uniform(1.0, 1.1)
        face = Face(row, width, height, draw.uniform(0.0, 0.3))
        numbers = [s.width * s.rise**1.5 * draw.uniform(0.05, 4.0), draw.uniform(0.0, 0.95), draw.uniform(-0.5, 4.0)]
        slope = draw.uniform(0.0, 0.05)

        def level(flow, blockage, tailwater, s=s, face=face, slope=slope):
            lay = Lay(slope, 25.0, tailwater, 0.2, 1.0)
            return max(tapered.tapered_levels(face, s, flow, lay, 0.0, throat, 1.0, blockage, pattern))

        before = level(*numbers)
        assert before >= numbers[2] - slope * 25.0 - 1e-9
        for k, step in enumerate((0.02 * numbers[0], 0.03, 0.05)):
            more = list(numbers)
            more[k] += step
            assert level(*more) >= before - 1e-6, (k, numbers, s, face)
