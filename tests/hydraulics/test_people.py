"""Forces and times by hand, the published values of the hazard rating, and every bound of its classes."""

from __future__ import annotations

from math import inf, nan

import numpy as np
import pytest

from overbank._jit import sweep
from overbank.constants import GRAVITY
from overbank.hydraulics import hazard, people
from overbank.hydraulics.tables import read_table

NOTE = "note of 2008"

# By hand, drag coefficient 1.2: 0.5 * 1000 * 1.2 * A * V^2, and 1000 * 9.81 * dh * A (closed form, computed
# independently: 360 and 589 N, 810 and 1766 N, 45 and 1472 N).
FORCES = [(1.0, 0.1, 0.6, 360.0, 588.6), (1.5, 0.3, 0.6, 810.0, 1765.8), (0.5, 0.5, 0.3, 45.0, 1471.5)]


@pytest.mark.parametrize(("velocity", "drop", "area", "drag", "pressure"), FORCES)
def test_forces_by_hand(velocity: float, drop: float, area: float, drag: float, pressure: float) -> None:
    assert people.drag_force(1.2, area, velocity) == pytest.approx(drag, rel=1e-12)
    assert people.pressure_force(area, drop) == pytest.approx(pressure, rel=1e-12)
    assert people.most_force(drag, pressure) == drag + pressure


def test_laws_of_the_forces() -> None:
    assert people.drag_force(1.2, 0.6, 2.0) == pytest.approx(4.0 * people.drag_force(1.2, 0.6, 1.0))
    assert people.pressure_force(0.6, 0.4) == pytest.approx(2.0 * people.pressure_force(0.3, 0.4))
    assert people.pressure_force(0.6, -0.1) == 0.0
    assert people.pressure_force(0.6, inf) == inf


# Hazard rating, FD2320 and FD2321 with the note of 2008 (formula from memory, arithmetic computed independently):
# depth, velocity, debris factor, rating, class with the bounds of 2008
RATINGS = [
    (0.2, 0.5, 0.0, 0.20, "low"),
    (0.5, 1.0, 0.5, 1.25, "most"),
    (0.6, 1.0, 1.0, 1.90, "most"),
    (1.2, 1.5, 1.0, 3.40, "all"),
]


@pytest.mark.parametrize(("depth", "velocity", "debris", "expected", "class_id"), RATINGS)
def test_published_ratings(depth: float, velocity: float, debris: float, expected: float, class_id: str) -> None:
    rating = people.hazard_rating(depth, velocity, debris)
    assert rating == pytest.approx(expected, abs=1e-9)
    place = int(hazard.rating_class(round(rating, 12), NOTE))
    assert hazard.rating_classes()[place].id == class_id


@pytest.mark.parametrize(
    ("bound", "below", "on"), [(0.75, "low", "some"), (1.25, "some", "most"), (2.0, "most", "all")]
)
def test_a_rating_on_a_bound_takes_the_worse_class(bound: float, below: str, on: str) -> None:
    places = hazard.rating_class([np.nextafter(bound, 0.0), bound, np.nextafter(bound, 9.0)], NOTE)
    assert [hazard.rating_classes()[int(place)].id for place in places] == [below, on, on]


def test_the_first_report_puts_the_danger_for_all_higher() -> None:
    assert list(hazard.rating_class([2.0, 2.499, 2.5], "first report")) == [2.0, 2.0, 3.0]
    assert list(hazard.rating_class([0.0, nan, inf], NOTE))[::2] == [0.0, 3.0]
    assert np.isnan(hazard.rating_class(nan, NOTE))


def test_rating_classes_are_the_table() -> None:
    rows = read_table("hazard_ratings")
    for row, found in zip(rows, hazard.rating_classes(), strict=True):
        assert (found.id, found.words) == (row["id"], row["class"])
        low = float(row["rating_low"])
        assert hazard.rating_classes()[int(hazard.rating_class(low, NOTE))].id == row["id"]
        if row["rating_high"]:
            inside = np.nextafter(float(row["rating_high"]), 0.0)
            assert hazard.rating_classes()[int(hazard.rating_class(inside, NOTE))].id == row["id"]


@pytest.mark.parametrize("row", read_table("debris_factors"), ids=lambda row: row["id"])
def test_debris_factors_are_the_table(row: dict[str, str]) -> None:
    """At the lower bound of each class of depth, just inside it, and deep in shallow water that runs fast."""
    factors, low = hazard.land_uses()[row["land_use"]], float(row["depth_low_m"])
    expected = float(row["debris_factor"])
    for depth in ([low] if low < 0.75 else []) + [low + 0.001, low + 0.2]:
        assert people.debris_factor(depth, 1.0, *factors) == expected
    assert people.debris_factor(0.1, 2.0, *factors) == 0.0
    assert people.debris_factor(0.1, 2.001, *factors) == factors[1]
    assert people.debris_factor(0.75, 1.0, *factors) == factors[0]


def test_bounds_in_the_code_are_those_of_the_table() -> None:
    lows = {float(row["depth_low_m"]) for row in read_table("debris_factors")}
    assert lows == {0.0, people.MIDDLE_DEPTH, people.DEEP}
    assert f"over {people.FAST:g} m/s" in read_table("debris_factors")[2]["depth_class"]


def test_ratings_of_arrays() -> None:
    # by hand, urban: 0.5 m at 1 m/s 0.75 + 1; 0.25 m at rest 0.125 + 1; 0.2 m at rest 0.1; dry
    found = hazard.rating([0.5, 0.25, 0.2, 0.0, -0.3], [1.0, 0.0, 0.0, 3.0, 0.0], "urban")
    np.testing.assert_allclose(found, [1.75, 1.125, 0.1, 0.0, 0.0], rtol=1e-12)
    assert hazard.rating(inf, 0.0, "woodland") == inf


# NSW Flood risk management guideline FB03 (2023), Figure 1, read second hand: at each limit of a class, and just beyond
# it, where no other limit decides. Velocity above 2 m/s gives at least H5, whatever the depth.
GENERAL = [
    (0.3, 1.0, "H1"), (0.3, 1.001, "H2"), (0.301, 0.5, "H2"), (0.1, 2.0, "H1"), (0.1, 2.001, "H5"),
    (0.5, 1.2, "H2"), (0.5, 1.201, "H4"), (0.501, 0.5, "H3"), (0.3, 2.0, "H2"),
    (1.2, 0.5, "H3"), (1.2, 0.501, "H4"), (1.201, 0.2, "H4"),
    (2.0, 0.5, "H4"), (2.0, 0.501, "H5"), (2.001, 0.1, "H5"), (0.5, 2.0, "H4"),
    (4.0, 1.0, "H5"), (4.0, 1.001, "H6"), (4.001, 0.1, "H6"), (1.0, 4.0, "H5"), (0.5, 4.001, "H6"), (1.001, 4.0, "H6"),
    (0.0, 0.0, "H1"), (inf, 0.0, "H6"),
]  # fmt: skip


@pytest.mark.parametrize(("depth", "velocity", "class_id"), GENERAL)
def test_general_classes_at_every_limit(depth: float, velocity: float, class_id: str) -> None:
    assert hazard.general_classes()[int(hazard.general_class(depth, velocity))].id == class_id


def test_general_classes_never_ease_as_water_rises_or_runs_faster() -> None:
    depth, velocity = np.meshgrid(np.linspace(0.0, 5.0, 101), np.linspace(0.0, 5.0, 101))
    found = hazard.general_class(depth, velocity)
    assert np.all(np.diff(found, axis=0) >= 0)
    assert np.all(np.diff(found, axis=1) >= 0)
    assert np.isnan(hazard.general_class(nan, 1.0))


def test_passage_through_a_barrel_by_hand() -> None:
    # 22 m at 2 m/s take 11 s; at 1 m/s on one end and 2 m/s on the other 0.5 * 22 * (1 + 0.5) = 16.5 s
    assert people.transit_time(22.0, 2.0, 2.0) == pytest.approx(11.0)
    assert people.transit_time(22.0, 1.0, 2.0) == pytest.approx(16.5)
    assert people.transit_time(22.0, 0.0, 0.0) == inf
    # a width of 2.4 m, 1.0 m deep at one end and 0.5 m at the other, holds 22 * 2.4 * 0.75 = 39.6 m3: at 3 m3/s 13.2 s
    assert people.transit_time(22.0, 3.0 / 2.4, 3.0 / 1.2) == pytest.approx(13.2)


def test_depth_on_a_crest_is_critical() -> None:
    # 1.7 H^1.5 over a crest under a head of 0.3 m: 0.279338 m2/s, (q^2/g)^(1/3) = 0.199617 m, about 2/3 of the head
    depth = people.crest_depth(1.7 * 0.3**1.5)
    assert depth == pytest.approx(0.199617, abs=1e-6)
    velocity = 1.7 * 0.3**1.5 / depth
    assert velocity**2 == pytest.approx(GRAVITY * depth)
    assert people.crest_velocity(depth) == pytest.approx(velocity)  # what carries that flow at that depth


@pytest.mark.parametrize("name", ["drag_force", "hazard_rating", "transit_time", "debris_factor"])
def test_kernels_for_arrays_and_single_numbers_agree(name: str) -> None:
    formula = getattr(people, name)
    count = formula.py_func.__code__.co_argcount
    columns = np.abs(np.random.default_rng(1).normal(size=(count, 50)))
    columns[:, 7] = 0.0
    found = sweep(formula)(*columns)
    assert [formula(*column) for column in columns.T] == list(found)
    assert [formula.py_func(*column) for column in columns.T] == list(found)
