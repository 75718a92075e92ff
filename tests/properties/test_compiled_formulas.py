"""One formula, three ways to run it: compiled, in plain Python, over arrays. And the same bits on one core or two."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_crossings import crossings

from overbank._jit import run_rows, sweep
from overbank.hydraulics import rows, screens, weirs
from overbank.hydraulics.clean_screens import kirschmer
from overbank.hydraulics.crossing import Crossed

EDGES = [-1.0, 0.0, 1e-300, 1e-12, 0.5, 1.0, 1.0 - 1e-12, 2.0, 1e6, inf, float("nan")]
SCALARS: dict[str, tuple[Callable[..., float], int]] = {
    "villemonte": (weirs.villemonte, 2),
    "road_drowning": (weirs.road_drowning, 1),
    "road_flow": (weirs.road_flow, 4),
    "clear_ratio": (screens.clear_ratio, 2),
    "contraction_loss": (screens.contraction_loss, 1),
    "screen_loss": (screens.screen_loss, 4),
    "slot_flow": (screens.slot_flow, 6),
    "overflow": (screens.overflow, 5),
    "kirschmer": (kirschmer, 4),
}


@pytest.mark.parametrize("name", SCALARS)
def test_compiled_plain_and_over_arrays(name: str) -> None:
    """Random and edge arguments. The plain body divides by zero with an error where compiled code gives inf or nan.

    Over arrays a missing number gives a missing result, whatever the formula makes of it.
    """
    kernel, count = SCALARS[name]
    rng = np.random.default_rng(1)
    table = rng.choice(EDGES, (count, 600))
    ordinary = rng.random((count, 600)) < 0.6
    table[ordinary] = rng.uniform(0, 3, ordinary.sum())
    over_arrays = sweep(kernel)
    with np.errstate(all="ignore"):
        swept = over_arrays(*table)
    for k in range(600):
        arguments = [float(x) for x in table[:, k]]
        compiled = kernel(*arguments)
        np.testing.assert_equal(swept[k], np.nan if np.isnan(arguments).any() else compiled)
        try:
            plain = kernel.py_func(*arguments)  # type: ignore[attr-defined]
        except (ZeroDivisionError, OverflowError, ValueError):
            continue
        if isinstance(plain, complex):  # a negative number to a broken power, which compiled code calls nan
            assert np.isnan(compiled)
        elif not np.isnan(plain) and not np.isnan(compiled):
            assert compiled == pytest.approx(plain, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize("loop", [rows.crossing_levels, rows.crossing_states])
def test_the_bits_do_not_depend_on_the_threads(loop: object, monkeypatch: pytest.MonkeyPatch) -> None:
    table = list(crossings(7000, seed=51))
    outputs = 2 if loop is rows.crossing_levels else len(Crossed._fields)
    found = []
    for threads in ("1", "2"):
        monkeypatch.setenv("OVERBANK_THREADS", threads)
        found.append(run_rows(loop, table, outputs, 7000))  # type: ignore[arg-type]
    np.testing.assert_array_equal(found[0], found[1])


def test_a_sample_does_not_depend_on_its_neighbours() -> None:
    table = crossings(3000, seed=52)
    whole = run_rows(rows.crossing_levels, list(table), 2, 3000)[0]
    order = np.random.default_rng(0).permutation(3000)
    shuffled = run_rows(rows.crossing_levels, list(table[:, order]), 2, 3000)[0]
    np.testing.assert_array_equal(whole[order], shuffled)


finite = st.floats(0.0, 50.0)


@settings(max_examples=300, deadline=None)
@given(
    flow=finite,
    down=st.floats(-5.0, 20.0),
    width=st.floats(0.01, 30.0),
    height=st.floats(0.01, 10.0),
    clear=st.floats(0.05, 1.0),
    clean_loss=st.floats(0.0, 5.0),
    blockage=st.floats(0.0, 1.0),
    pattern=st.sampled_from([0.0, 1.0, 2.0]),
    over=st.sampled_from([0.0, 1.7]),
)
def test_a_screen_has_a_level_for_anything(
    flow: float,
    down: float,
    width: float,
    height: float,
    clear: float,
    clean_loss: float,
    blockage: float,
    pattern: float,
    over: float,
) -> None:
    """Never nan, never below the water behind, endless only when shut; at rest at the water behind or the lip."""
    level = screens.screen_head(flow, down, width, height, clear, clean_loss, 0.6, blockage, pattern, over)
    assert level >= max(down, 0.0)
    if blockage < screens.SHUT or over > 0:
        assert level < inf
    if flow == 0 and blockage < screens.SHUT:
        lip = blockage * height if pattern == screens.BOTTOM_UP else 0.0
        assert level == max(down, 0.0, lip)
