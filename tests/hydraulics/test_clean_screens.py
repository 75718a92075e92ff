"""Clean bar screens: each form against a worked value, against its siblings, and against a law.

Worked values: computed independently in plain Python from the formula (closed form) unless another source is
named. Bars 20 mm, clear gaps 140 mm, 60 deg (solid share 0.125, clear share 0.875).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from fluids.filters import square_edge_grill, square_edge_screen

from overbank._jit import sweep
from overbank.hydraulics import clean_screens as screens

BAR, GAP, INCLINATION = 0.020, 0.140, 60.0
SOLID, CLEAR = 0.125, 0.875


def with_gap(formula: Callable[[float, float], float]) -> Callable[[float], float]:
    """A form as a function of the clear gap between 20 mm bars."""
    return lambda gap: formula(gap, BAR / (BAR + gap))


FORMS: dict[str, Callable[[float], float]] = {
    "kirschmer": with_gap(lambda gap, _: screens.kirschmer(2.42, BAR, gap, INCLINATION)),
    "meusburger": with_gap(lambda _, solid: screens.meusburger(2.42, solid, 0.0, INCLINATION)),
    "idelchik_bars": with_gap(lambda gap, _: screens.idelchik_bars(2.34, BAR, gap, INCLINATION)),
    "sharp_plate": with_gap(lambda _, solid: screens.sharp_plate(1.0 - solid)),
    "usbr": with_gap(lambda _, solid: screens.usbr(1.0 - solid)),
    "levin": with_gap(lambda gap, solid: screens.levin(0.51, solid, 0.060, gap, INCLINATION)),
    "clark": with_gap(lambda _, solid: screens.clark(1.0, solid, 0.0)),
    "raynal": with_gap(lambda _, solid: screens.raynal(3.85, solid, INCLINATION)),
    "wastewater_form": with_gap(lambda _, solid: screens.wastewater_form(1.0 - solid, 0.7)),
}

WORKED = {
    "kirschmer": 0.1565,
    "meusburger": 0.113162,
    "idelchik_bars": 0.151338,
    "sharp_plate": 0.183636,
    "usbr": 0.379592,
    "levin": 0.231251,
    "clark": 0.116094,
    "raynal": 0.116442,
    "wastewater_form": 0.4373,
}


@pytest.mark.parametrize("name", FORMS)
def test_worked_value(name: str) -> None:
    assert FORMS[name](GAP) == pytest.approx(WORKED[name], rel=5e-4)


def test_kirschmer_on_a_printed_design_sheet() -> None:
    """0.6 m/s, 20 mm bars 100 mm apart, 75 deg, factor 1.83: 0.0037935 m.

    Design of Intake Orifice Canal, public design sheet, author unknown (read in the source)."""
    loss = screens.head_loss(screens.kirschmer(1.83, 0.020, 0.100, 75.0), 0.6)
    assert loss == pytest.approx(0.0037935, abs=5e-8)


def test_wastewater_form_on_its_printed_example() -> None:
    """0.6 m/s before and 0.9 m/s between the bars: 0.033 m (public formula page, ajdesigner.com, read)."""
    loss = screens.head_loss(screens.wastewater_form(0.6 / 0.9, 0.7), 0.6)
    assert loss == pytest.approx(0.033, abs=5e-4)


def test_skew_outranks_the_shape_of_bars() -> None:
    """Meusburger at 30 deg: 0.405104 (closed form); more than any shape of bar adds."""
    assert screens.meusburger(2.42, SOLID, 30.0, INCLINATION) == pytest.approx(0.405104, rel=1e-5)


def test_meusburger_at_a_dense_rack() -> None:
    assert screens.meusburger(2.42, 0.40, 0.0, 90.0) == pytest.approx(1.31728, rel=1e-5)


def test_clark_in_skewed_flow() -> None:
    assert screens.clark(1.0, SOLID, 20.0) == pytest.approx(0.15362, rel=1e-4)


@pytest.mark.parametrize("clear", [0.2, 0.3, 0.4, 0.5, 0.6])
def test_sharp_plate_against_blevins_screen(clear: float) -> None:
    """Blevins 1984, as coded in fluids: -1 to +9 % to whole percents."""
    deviation = screens.sharp_plate(clear) / square_edge_screen(clear) - 1.0
    assert -0.015 < deviation < 0.095


@pytest.mark.parametrize("clear", [0.2, 0.4, 0.6, 0.8, 0.9])
def test_usbr_against_blevins_grill(clear: float) -> None:
    """The two differ by 0.05 (1 - f) / f^2 by algebra, 2 to 3 %."""
    difference = square_edge_grill(clear) - screens.usbr(clear)
    assert difference == pytest.approx(0.05 * (1.0 - clear) / clear**2, rel=1e-9)


@pytest.mark.parametrize("gap", [0.075, 0.100, 0.140, 0.200, 0.300])
@pytest.mark.parametrize("name", FORMS)
def test_forms_agree_within_a_factor(name: str, gap: float) -> None:
    """Gaps of river screens: within a factor of two of Kirschmer's, save the two known to lie above."""
    ratio = FORMS[name](gap) / FORMS["kirschmer"](gap)
    if name in ("usbr", "wastewater_form"):
        assert 2.0 < ratio < 3.5
    else:
        assert 0.5 < ratio < 2.0


def test_spread_of_the_nine_forms() -> None:
    """Standard deviation of the logarithms about 0.5, the model error to allow for a clean screen."""
    assert np.std([math.log(form(GAP)) for form in FORMS.values()], ddof=1) == pytest.approx(0.5, abs=0.05)


def test_rival_factors_of_one_form_differ_little() -> None:
    """Kirschmer and Idelchik share one equation; their rectangle factors differ by 3 %."""
    assert FORMS["idelchik_bars"](GAP) / FORMS["kirschmer"](GAP) == pytest.approx(2.34 / 2.42)


@pytest.mark.parametrize("name", FORMS)
def test_loss_falls_as_the_gap_widens(name: str) -> None:
    losses = [FORMS[name](gap) for gap in (0.03, 0.05, 0.08, 0.12, 0.2, 0.3)]
    assert losses == sorted(losses, reverse=True)
    assert all(loss > 0.0 for loss in losses)


@pytest.mark.parametrize("name", ["kirschmer", "meusburger", "idelchik_bars", "sharp_plate", "raynal", "clark"])
def test_no_bars_no_loss(name: str) -> None:
    assert FORMS[name](1e9) == pytest.approx(0.0, abs=1e-4)


def test_usbr_keeps_no_loss_without_bars() -> None:
    """1.45 - 0.45 - 1 = 0 by algebra."""
    assert screens.usbr(1.0) == pytest.approx(0.0, abs=1e-15)
    assert screens.wastewater_form(1.0, 0.7) == 0.0


def test_flatter_screens_lose_less() -> None:
    ratio = screens.kirschmer(2.42, BAR, GAP, 30.0) / screens.kirschmer(2.42, BAR, GAP, 90.0)
    assert ratio == pytest.approx(0.5)
    flat, upright = (screens.raynal(3.85, SOLID, angle) for angle in (30.0, 90.0))
    assert flat / upright == pytest.approx(0.25)
    levin = screens.levin(0.51, SOLID, 0.060, GAP, 30.0) / screens.levin(0.51, SOLID, 0.060, GAP, 90.0)
    assert levin == pytest.approx(0.5)


def test_head_loss_grows_with_the_square_of_velocity() -> None:
    assert screens.head_loss(0.3, 2.0) == pytest.approx(4.0 * screens.head_loss(0.3, 1.0))
    assert screens.head_loss(1.0, math.sqrt(2.0 * 9.81)) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("formula", "arguments"),
    [
        (screens.kirschmer, (2.42, BAR, 0.0, INCLINATION)),
        (screens.idelchik_bars, (2.34, BAR, 0.0, INCLINATION)),
        (screens.meusburger, (2.42, 1.0, 0.0, INCLINATION)),
        (screens.sharp_plate, (0.0,)),
        (screens.usbr, (0.0,)),
        (screens.raynal, (3.85, 1.0, INCLINATION)),
        (screens.wastewater_form, (0.0, 0.7)),
    ],
)
def test_nothing_clear_is_infinite_compiled_and_plain(
    formula: Callable[..., float], arguments: tuple[float, ...]
) -> None:
    assert formula(*arguments) == math.inf
    plain = getattr(formula, "py_func", formula)
    assert plain(*arguments) == math.inf


def test_sweep_gives_the_same_as_one_call_at_a_time() -> None:
    clear = np.linspace(0.1, 1.0, 7)
    swept = sweep(screens.sharp_plate)(clear)
    assert swept == pytest.approx([screens.sharp_plate(float(f)) for f in clear], rel=1e-14)


def test_limits_name_a_formula_and_an_interval() -> None:
    assert set(screens.LIMITS) == set(FORMS)
    for quantity, low, high in screens.LIMITS.values():
        assert quantity in ("bar / gap", "solid share", "clear share")
        assert 0.0 <= low < high
