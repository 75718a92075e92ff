"""Flow over crests: siblings in the library fluids, continuity where branches meet, laws, bounds of oblique crests.

fluids 1.3.1 takes g = 9.80665, which makes its flows 0.02 % less. Used are its full-width plates, and its contracted
plate, which holds for b/B up to 0.2; its other weirs give flows that no sibling supports.
"""

from __future__ import annotations

from collections.abc import Callable
from math import cos, radians, sqrt

import numpy as np
import pytest
from fluids.open_flow import (
    Q_weir_rectangular_full_Ackers,
    Q_weir_rectangular_full_Kindsvater_Carter,
    Q_weir_rectangular_full_Rehbock,
    Q_weir_rectangular_Kindsvater_Carter,
)

from overbank._jit import sweep
from overbank.hydraulics import crests, oblique
from overbank.hydraulics.crest_limits import crest_limits, crest_quantities, outside
from overbank.hydraulics.tables import read_table

PLATES = [(0.1, 0.5, 1.0), (0.2, 0.5, 1.0), (0.3, 0.4, 2.0), (0.5, 1.0, 5.0)]
"""Head, height, width [m]."""

FULL_WIDTH = crests.plate_row(1.0)
HEADS = np.linspace(0.001, 3.0, 3000)

RATINGS: dict[str, Callable[[float], float]] = {
    "broad, gauged": lambda h: crests.broad_crested(h, 5.0, 1.2),
    "broad, energy": lambda h: crests.broad_crested_energy(h, 1.05 * h, 5.0, 1.2),
    "round": lambda h: crests.round_nosed(h, 1.05 * h, 5.0, 1.2),
    "plate, full width": lambda h: crests.kindsvater_carter(h, 0.8, 5.0, FULL_WIDTH),
    "plate, narrow": lambda h: crests.kindsvater_carter(h, 0.8, 1.0, crests.plate_row(0.1)),
    "plate, no height": lambda h: crests.kindsvater_carter(h, 0.0, 5.0, FULL_WIDTH),
    "rehbock": lambda h: crests.rehbock(h, 0.8, 5.0),
    "triangular": lambda h: crests.triangular(h, 1.05 * h, 5.0, crests.TRIANGULAR_OFFSET),
    "oblique": lambda h: crests.broad_crested(h, oblique.effective_width(5.0, 75.0, 1.0, h, 0.8), 1.2),
    "oblique, gain 2": lambda h: crests.broad_crested(h, oblique.effective_width(5.0, 75.0, 2.0, h, 0.8), 1.2),
}


@pytest.mark.parametrize(("head", "height", "width"), PLATES)
def test_full_width_plates_agree_with_the_library(head: float, height: float, width: float) -> None:
    ours = crests.kindsvater_carter(head, height, width, FULL_WIDTH)
    # the library takes 1 mm off the width, our table 0.9 mm
    assert ours == pytest.approx(Q_weir_rectangular_full_Kindsvater_Carter(head, height, width), rel=4e-4)
    assert ours == pytest.approx(Q_weir_rectangular_full_Ackers(head, height, width), rel=0.012)
    sibling = crests.rehbock(head, height, width)
    assert sibling == pytest.approx(Q_weir_rectangular_full_Rehbock(head, height, width), rel=7e-4)
    assert sibling / ours - 1.0 == pytest.approx(0.008, abs=0.004)  # the two published forms differ by 0.5 to 1.1 %


def test_contracted_plate_agrees_with_the_library() -> None:
    """fluids adds 0.1 mm to the head where the standard adds 1 mm; with its own figure the flows agree.

    Its coefficient of 0.554 sqrt(g), 0.5876 in our writing, lies between our rows for b/B = 0 and 0.2.
    """
    row = crests.plate_row(0.1)
    library = Q_weir_rectangular_Kindsvater_Carter(0.2, 0.5, 1.0)
    with_its_shift = crests.kindsvater_carter(0.2, 0.5, 1.0, row._replace(head_shift=0.0001))
    assert with_its_shift == pytest.approx(library, rel=5e-4)
    standard = crests.kindsvater_carter(0.2, 0.5, 1.0, crests.plate_row(0.2))
    assert library / standard - 1.0 == pytest.approx(-0.0076, abs=2e-4)


def test_coefficient_of_a_plate_rises_up_to_heads_of_two_and_a_half_times_its_height_and_is_held_beyond() -> None:
    """Ce = 0.602 + 0.075 h/p across the channel (ISO 1438; from memory), to h/p = 2.5."""
    for head, share in ((0.2, 0.4), (1.2, 2.4), (1.25, 2.5), (2.0, 2.5)):
        flow = crests.kindsvater_carter(head, 0.5, 3.0, FULL_WIDTH)
        free = 2.0 / 3.0 * sqrt(2.0 * 9.81) * (3.0 - 0.0009) * (head + 0.001) ** 1.5
        assert flow / free == pytest.approx(0.602 + 0.075 * share, rel=1e-12)


def test_plate_constants_lie_between_the_rows_of_the_table() -> None:
    assert crests.plate_row(0.65) == pytest.approx((0.5935, 0.024, 0.00385, 0.001))  # halfway between 0.6 and 0.7
    assert crests.plate_row(1.7) == FULL_WIDTH
    assert len(crests.plate_constants(np.linspace(0.0, 1.0, 7))) == 4


def test_triangular_coefficient_is_the_same_in_both_ways_of_writing_it() -> None:
    """1.163 (2/3)^1.5 = 0.633: Q = 0.633 sqrt(g) b H^1.5 (both from memory)."""
    assert crests.triangular(1.0, 1.0, 1.0, 0.0) / sqrt(9.81) == pytest.approx(0.633, rel=2e-4)


def test_both_heads_of_a_broad_crest_agree_where_the_gauged_form_ends() -> None:
    """h/(h + p) = 0.35: the energy form with its own approach velocity gives the flow of the gauged form."""
    head, height, width, breadth = 0.35, 0.65, 5.0, 1.2
    constant = crests.broad_crested_energy(head, 1.0, width, breadth)
    energy_head = crests.energy_head(head, constant, width * (head + height))
    by_energy = crests.broad_crested_energy(head, energy_head, width, breadth)
    assert by_energy == pytest.approx(crests.broad_crested(head, width, breadth), rel=2e-3)


@pytest.mark.parametrize("name", RATINGS)
def test_flow_rises_strictly_with_the_head_and_without_a_step(name: str) -> None:
    flows = np.array([RATINGS[name](head) for head in HEADS])
    start = 0.003 * 1.2 if name == "round" else crests.TRIANGULAR_OFFSET
    steps = np.diff(flows[start < HEADS])
    assert np.all(steps > 0.0)
    assert np.max(steps) < 0.002 * flows[-1]
    assert RATINGS[name](0.0) == RATINGS[name](-0.5) == 0.0


def test_short_crest_joins_the_long_one() -> None:
    ratios = np.linspace(0.0, 3.0, 30_001)
    coefficients = sweep(crests.square_edge_coefficient)(ratios)
    assert np.all(np.diff(coefficients) >= 0.0)
    assert np.max(np.diff(coefficients)) < 2e-5 * 1.01
    printed = np.where(ratios <= 0.4, 0.864, 0.191 * ratios + 0.782)
    within = (ratios >= 0.1) & (ratios <= 1.6)
    assert np.max(np.abs(coefficients / printed - 1.0)[within]) < 0.007


@pytest.mark.parametrize("limit", [0.0, 0.5, 0.66, 0.8, 0.95])
def test_drowned_factor_starts_at_the_modular_limit_without_a_step(limit: float) -> None:
    ratios = np.linspace(-0.5, 1.0, 150_001)
    factors = np.array([crests.drowned_factor(r, limit) for r in ratios])
    assert np.all(factors[ratios <= limit] == 1.0)
    assert np.all(np.diff(factors)[ratios[1:] > limit + 1e-4] < 0.0)
    assert factors[-1] == 0.0
    assert 1.0 - crests.drowned_factor(limit + 1e-9, limit) < 1e-9
    before_equal_levels = ratios[1:] < 0.999
    assert np.max(-np.diff(factors)[before_equal_levels]) < 2e-3


def test_triangular_drowned_factor_is_the_published_one_without_its_steps() -> None:
    ratios = np.linspace(0.0, 1.0, 100_001)
    factors = np.array([crests.triangular_drowned_factor(r) for r in ratios])
    assert np.all(np.diff(factors) <= 0.0)
    assert factors[0] == 1.0
    assert factors[-1] == 0.0
    assert np.max(-np.diff(factors)[ratios[1:] < 0.9995]) < 1e-3
    curved = (ratios > 0.75) & (ratios <= 0.93)
    assert factors[curved] == pytest.approx(1.035 * (0.817 - ratios[curved] ** 4) ** 0.0647, abs=1e-12)
    straight = (ratios > 0.9302) & (ratios <= 0.985)
    assert factors[straight] == pytest.approx(8.686 - 8.403 * ratios[straight], abs=1e-12)
    beyond = [crests.triangular_drowned_factor(ratio) for ratio in (0.985, 0.985 + 1e-6)]
    assert (beyond[0] - beyond[1]) / 1e-6 == pytest.approx(8.403, rel=1e-3)  # the same slope on both sides
    modular = ratios <= 0.75
    assert np.min(factors[modular]) > 0.989  # printed as 1 up to the limit, 0.990 beyond


def test_energy_head_is_the_lower_root_or_the_cap() -> None:
    area, constant = 15.0, 14.0
    found = crests.energy_head(0.5, constant, area)
    assert found == pytest.approx(0.5 + (constant * found**1.5 / area) ** 2 / (2.0 * 9.81), rel=1e-12)
    assert found < 0.75
    assert crests.energy_head(0.5, 60.0, area) == 0.75
    assert crests.energy_head(0.0, constant, area) == 0.0


@pytest.mark.parametrize("ratio", [4.0, 25.0])
def test_froude_scaling_of_every_form_without_its_dimensional_constants(ratio: float) -> None:
    row = FULL_WIDTH._replace(width_shift=0.0, head_shift=0.0)
    forms: dict[str, Callable[[float], float]] = {
        "broad": lambda s: crests.broad_crested(0.4 * s, 5.0 * s, 0.5 * s),
        "broad, energy": lambda s: crests.broad_crested_energy(0.4 * s, 0.42 * s, 5.0 * s, 0.5 * s),
        "round": lambda s: crests.round_nosed(0.4 * s, 0.42 * s, 5.0 * s, 1.0 * s),
        "plate": lambda s: crests.kindsvater_carter(0.4 * s, 0.5 * s, 5.0 * s, row),
        "triangular": lambda s: crests.triangular(0.4 * s, 0.42 * s, 5.0 * s, 0.0),
        "full length": lambda s: oblique.full_length_flow(0.4 * s, 0.5 * s, 5.0 * s, 40.0, 0.9),
        "normal component": lambda s: oblique.normal_component_flow(0.4 * s, 0.5 * s, 5.0 * s, 40.0, 0.9),
        "borghei": lambda s: oblique.borghei_2003(0.4 * s, 0.5 * s, 5.0 * s, 40.0),
    }
    for name, form in forms.items():
        assert form(ratio) / form(1.0) == pytest.approx(ratio**2.5, rel=1e-12), name
    with_constants = crests.kindsvater_carter(0.4 * ratio, 0.5 * ratio, 5.0 * ratio, FULL_WIDTH)
    assert with_constants / crests.kindsvater_carter(0.4, 0.5, 5.0, FULL_WIDTH) < ratio**2.5 * (1.0 - 1e-3)


@pytest.mark.parametrize("formula", [crests.broad_crested, crests.rehbock], ids=["broad", "rehbock"])
def test_compiled_plain_and_swept_formulas_give_the_same(formula: Callable[..., float]) -> None:
    heads = np.array([-0.1, 0.0, 0.05, 0.4, 2.0])
    plain = getattr(formula, "py_func", formula)
    compiled = [formula(head, 2.0, 1.5) for head in heads]
    assert [plain(head, 2.0, 1.5) for head in heads] == pytest.approx(compiled, rel=1e-15)
    assert sweep(formula)(heads, 2.0, 1.5) == pytest.approx(compiled, rel=1e-15)


@pytest.mark.parametrize("angle", [0.0, 15.0, 30.0, 45.0, 60.0])
@pytest.mark.parametrize("head", [0.05, 0.3, 1.0])
def test_oblique_models_lie_between_a_straight_crest_and_the_full_length(angle: float, head: float) -> None:
    crest = (head, 1.0, 10.0, angle, 0.9)
    straight = oblique.full_length_flow(head, 1.0, 10.0, 0.0, 0.9)
    normal, full = oblique.normal_component_flow(*crest), oblique.full_length_flow(*crest)
    assert straight <= normal * (1.0 + 1e-12)
    assert normal <= full * (1.0 + 1e-12)
    width = oblique.effective_width(10.0, angle, 1.0, head, 1.0)
    assert 10.0 <= width <= 10.0 / cos(radians(angle)) * (1.0 + 1e-12)
    assert oblique.effective_width(10.0, angle, 0.0, head, 1.0) == 10.0


def test_gain_of_an_oblique_crest_falls_smoothly_with_the_head() -> None:
    shares = np.linspace(0.0, 1.5, 1501)
    gains = np.array([oblique.oblique_gain(share) for share in shares])
    assert np.all(np.diff(gains) <= 0.0)
    assert gains[0] == gains[shares <= 0.2][-1] == 0.8
    assert gains[-1] == oblique.oblique_gain(0.6) == pytest.approx(0.3)
    assert [oblique.oblique_gain(share) for share in (0.3, 0.4, 0.5)] == pytest.approx([0.721875, 0.55, 0.378125])
    # bands of the judgement: 0.6 to 1.0 below 0.2, 0 to 0.6 above 0.6
    assert np.max(np.abs(np.diff(gains, 2))) < 2e-5
    wide = [oblique.effective_width(10.0, 45.0, 2.0, share, 1.0) for share in shares]
    assert wide[0] == pytest.approx(10.0 / cos(radians(45.0)))


def test_oblique_crest_gains_nothing_like_its_length_at_high_heads() -> None:
    """Noori and Chilmeran (2005), abstract: the gain tends to the length ratio as h/P tends to 0; it falls with h/P."""
    low, high = (oblique.effective_width(10.0, 60.0, 1.25, head, 1.0) / 10.0 for head in (0.01, 2.0))
    assert low == pytest.approx(2.0)
    assert high < 1.5


def test_borghei_is_not_to_be_used_for_a_nearly_straight_crest() -> None:
    """At B/L = 1 its coefficient rises with h/P by 0.566, Rehbock's by 0.083: the reason for its limit."""
    coefficients = [oblique.borghei_2003(head, 1.0, 1.0, 0.0) / head**1.5 for head in (0.2, 0.5)]
    slope = (coefficients[1] - coefficients[0]) / 0.3 / (2.0 / 3.0 * sqrt(2.0 * 9.81))
    assert slope == pytest.approx(0.566, abs=1e-9)
    (limit,) = crest_limits("borghei")
    assert limit.high == 0.9


def test_limits_of_every_kind_are_found_and_applied() -> None:
    for kind in crests.KINDS:
        assert crest_limits(kind), kind
    assert crest_limits("ladder") == ()
    quantities = crest_quantities(
        head=np.array([0.02, 0.2, 0.2]),
        height=0.5,
        width=np.array([3.0, 3.0, 0.2]),
        breadth=1.0,
        angle_deg=0.0,
        crest_above_level_below=0.1,
    )
    found = {limit.quantity: outside(limit, quantities) for limit in crest_limits("broad_crested")}
    assert found["head_m"].tolist() == [True, False, False]
    assert found["width_m"].tolist() == [False, False, True]
    assert not np.any(found["height_m"])
    sunk = crest_quantities(0.2, -0.1, 3.0, 1.0, 0.0, -0.3)
    assert any(np.all(outside(limit, sunk)) for limit in crest_limits("thin_plate"))


def test_every_limit_names_a_quantity_that_is_computed() -> None:
    known = set(crest_quantities(0.2, 0.5, 3.0, 1.0, 0.0, 0.1))
    rows = read_table("crest_limits")
    assert {row["quantity"] for row in rows} == known
    assert {row["kind"] for row in rows} == {*crests.KINDS, "oblique", "borghei"}
    for row in rows:
        low, high = float(row["low"] or -np.inf), float(row["high"] or np.inf)
        assert low < high


@pytest.mark.parametrize("table", ["crest_uncertainty", "crest_modular_limits"])
def test_every_kind_has_an_uncertainty_and_a_modular_limit(table: str) -> None:
    rows = read_table(table)
    assert {row["kind"] for row in rows} == set(crests.KINDS)
    for row in rows:
        assert 0.0 <= float(row["low"]) <= float(row["high"] or 1.0) <= 1.0
