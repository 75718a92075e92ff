"""The law of the threshold method: headwater never falls when flow, blockage, roughness or tailwater rises.

Tolerance. The level is found to 1e-7 m in the split between barrels and road and to 1e-8 m at the screen, the profile
to about 1e-6 of the depth; 2e-5 m covers all three in barrels of up to 5 m. Where debris holds up tens of metres, the
law of the screen multiplies those errors, so the tolerance grows with the head beyond 20 m.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from random_crossings import AT, Table, changed, crossings, levels, told

SAMPLES = 20_000
TOLERANCE = 2e-5

Change = Callable[[Table, np.ndarray], Table]


def _more(table: Table, name: str, share: np.ndarray) -> Table:
    return changed(table, **{name: table[AT[name]] * (1 + share)})


def _closer_to_one(table: Table, name: str, share: np.ndarray) -> Table:
    return changed(table, **{name: table[AT[name]] + (1 - table[AT[name]]) * share})


def _blocked(table: Table, share: np.ndarray) -> Table:
    more = _closer_to_one(table, "blockage", share)
    return changed(more, blockage=np.where(table[AT["screen_width"]] > 0, 0.0, more[AT["blockage"]]))


CHANGES: dict[str, Change] = {
    "flow": lambda t, share: _more(t, "flow", share),
    "blockage of the screen": lambda t, share: _closer_to_one(t, "screen_blockage", share),
    "blockage of the barrels": _blocked,
    "blockage of the relief barrels": lambda t, share: _closer_to_one(t, "relief_blockage", share),
    "roughness of the relief barrels": lambda t, share: _more(t, "relief_manning_n", share),
    "roughness of the walls": lambda t, share: _more(t, "manning_n", share),
    "roughness of the bed": lambda t, share: _more(t, "bed_manning_n", share),
    "tailwater": lambda t, share: changed(t, tailwater=t[AT["tailwater"]] + share),
    "clean loss of the screen": lambda t, share: _more(t, "screen_clean_loss", share),
    "entrance loss": lambda t, share: _more(t, "entrance_loss", share),
}


@pytest.fixture(scope="module")
def drawn() -> tuple[Table, np.ndarray]:
    table = crossings(SAMPLES, seed=20, relief=0.25)
    return table, levels(table)


@pytest.mark.parametrize("what", CHANGES)
def test_headwater_never_falls(drawn: tuple[Table, np.ndarray], what: str) -> None:
    """Steps from a ten-thousandth to the whole: both a jump and a gentle slope the wrong way would be seen."""
    table, before = drawn
    share = 10.0 ** np.random.default_rng(3).uniform(-4, 0, SAMPLES)
    after = levels(CHANGES[what](table, share))
    assert not np.isnan(after).any()
    head = before - table[AT["upstream_invert"]]
    fall = np.where(np.isinf(before) & np.isinf(after), 0.0, before - after)
    excess = fall - TOLERANCE * np.maximum(1.0, head / 20)
    worst = int(np.argmax(excess))
    assert excess[worst] <= 0, (what, share[worst], before[worst], after[worst], told(table, worst))


@pytest.mark.parametrize("what", ["blockage", "screen_blockage"])
def test_a_ladder_of_blockages_from_clean_to_shut(what: str) -> None:
    """As the threshold method climbs: every rung at or above the one below, and the last has no way but the road."""
    table = crossings(1000, seed=21, screen=float(what == "screen_blockage"))
    rungs = 1 - (1 - np.linspace(0, 1, 41)) ** 2
    ladder = np.array([levels(changed(table, **{what: rung})) for rung in rungs])
    head = np.minimum(ladder[:-1] - table[AT["upstream_invert"]], 1e9)
    # above 1e9 m, where the last slivers close, round-off rules
    with np.errstate(invalid="ignore"):
        fall = ladder[:-1] - ladder[1:]
    fall[np.isinf(ladder[1:])] = 0.0
    assert np.all(fall <= TOLERANCE * np.maximum(1.0, head / 20))
    no_road = table[AT["road_length"]] == 0
    no_top = (what == "blockage") | (table[AT["screen_overflow_coefficient"]] == 0) & (table[AT["bypass_width"]] == 0)
    np.testing.assert_array_equal(np.isinf(ladder[-1]), no_road & no_top)


def test_the_patterns_agree_when_there_is_no_debris() -> None:
    table = changed(crossings(3000, seed=22), blockage=0.0, screen_blockage=0.0)
    clean = [levels(changed(table, pattern=p, screen_pattern=p)) for p in (0.0, 1.0, 2.0)]
    np.testing.assert_allclose(clean[1], clean[0], atol=1e-7)
    np.testing.assert_allclose(clean[2], clean[0], atol=1e-7)


def test_headwater_is_never_below_the_water_behind() -> None:
    table = crossings(SAMPLES, seed=23)
    assert np.all(levels(table) >= table[AT["tailwater"]] - 1e-9)
