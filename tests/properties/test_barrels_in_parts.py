"""Barrels in parts among random crossings: two like parts are one barrel, and the level never falls."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
import pytest
from random_crossings import AT, Table, changed, crossings, levels

from overbank._jit import run_rows
from overbank.hydraulics import rows
from overbank.hydraulics.barrel_parts import CHAMBER, MANHOLE, PART, PLAIN
from overbank.hydraulics.columns import size
from overbank.hydraulics.crossing import Crossed
from overbank.hydraulics.sections import CIRCLE, RECTANGLE, Section


def split(table: Table, share: float) -> Table:
    """Every main barrel cut in two alike parts at a share of its length; columns of the parts behind the others."""
    length, up, down = (table[AT[name]] for name in ("length", "upstream_invert", "downstream_invert"))
    middle = up + share * (down - up)
    first = changed(table, length=share * length, downstream_invert=middle)
    nought = np.zeros(table.shape[1])
    slope = (middle - down) / ((1 - share) * length)
    own = [table[AT[name]] for name in Section._fields]
    return np.vstack([first, *own, (1 - share) * length, slope, nought, nought, nought])


def test_two_like_parts_in_line_are_one_barrel() -> None:
    """Random crossings, every pattern of debris, silt too: levels, depths and velocities of the uncut barrel."""
    table = changed(crossings(1500, seed=31), outlet_loss=0.0)
    count = len(Crossed._fields)
    whole = run_rows(rows.crossing_states, list(table), count, table.shape[1])
    parted = partial(rows.any_crossing_states, None, rows.CROSSING)
    cut = run_rows(parted, list(split(table, 0.4)), count, table.shape[1])
    one, two = dict(zip(Crossed._fields, whole, strict=True)), dict(zip(Crossed._fields, cut, strict=True))
    head = np.maximum(1.0, (one["level"] - table[AT["upstream_invert"]]) / 20)
    with np.errstate(invalid="ignore"):
        apart = np.where(np.isinf(one["level"]), 0.0, np.abs(one["level"] - two["level"]) / head)
    assert apart.max() < 2e-5
    steady = np.isfinite(one["level"])
    for name in ("depth_in", "depth_out", "velocity_out", "free_height"):
        scale = np.maximum(np.abs(one[name][steady]), 1.0)
        worst = np.abs(one[name] - two[name])[steady] / scale
        assert np.quantile(worst, 0.999) < 1e-4, name  # a jump at the very joint may fall on either side


def with_parts(samples: int, seed: int) -> Table:
    """Random crossings of which the barrel has two further parts, unlike, with every joint."""
    rng, table = np.random.default_rng(seed), crossings(samples, seed)
    drop_to = table[AT["downstream_invert"]].copy()
    added = []
    for _ in range(2):
        shape = rng.choice([RECTANGLE, CIRCLE], samples).astype(float)
        span = table[AT["width"]] * np.exp(rng.uniform(-0.5, 0.3, samples))
        rise = np.where(shape == CIRCLE, span, span * rng.uniform(0.5, 1.2, samples))
        n = rng.uniform(0.01, 0.04, samples)
        length = np.exp(rng.uniform(1.0, 4.0, samples))
        slope = rng.choice([0.0, 0.003, 0.03, -0.003], samples) * rng.uniform(0.3, 1.5, samples)
        drop = np.where(rng.random(samples) < 0.5, 0.0, rng.uniform(0, 0.8, samples))
        loss = np.where(rng.random(samples) < 0.4, 0.0, rng.uniform(0, 1.5, samples))
        joint = rng.choice([PLAIN, PLAIN, MANHOLE, CHAMBER], samples).astype(float)
        nought = np.zeros(samples)
        added += [shape, span, nought, rise, nought, nought, n, n, length, slope, drop, loss, joint]
        drop_to -= drop + slope * length
    table = changed(table, tailwater=drop_to + rise * rng.uniform(-0.3, 2.5, samples))
    assert len(added) == 2 * PART
    return np.vstack([table, *added])


def _rougher_part(table: Table, share: np.ndarray) -> Table:
    new, at = table.copy(), size(rows.CrossingRow) + Section._fields.index("manning_n")
    new[at] *= 1 + share
    return new


def _more(name: str) -> Callable[[Table, np.ndarray], Table]:
    return lambda table, share: changed(table, **{name: table[AT[name]] * (1 + share)})


CHANGES: dict[str, Callable[[Table, np.ndarray], Table]] = {
    "flow": _more("flow"),
    "roughness of the first part": _more("manning_n"),
    "roughness of a part further down": _rougher_part,
    "tailwater": lambda t, share: changed(t, tailwater=t[AT["tailwater"]] + share),
    "blockage": lambda t, share: changed(t, blockage=t[AT["blockage"]] + (1 - t[AT["blockage"]]) * share),
}


@pytest.mark.parametrize("what", CHANGES)
def test_the_level_never_falls(what: str) -> None:
    """Three parts, 2 500 random barrels; tolerance as in `test_headwater_never_falls`."""
    table = with_parts(2500, seed=32)
    share = 10.0 ** np.random.default_rng(3).uniform(-4, 0, table.shape[1])
    before, after = levels(table), levels(CHANGES[what](table, share))
    assert not np.isnan(after).any()
    head = np.minimum(before - table[AT["upstream_invert"]], 1e9)
    fall = np.where(np.isinf(after), 0.0, before - after)
    excess = fall - 2e-5 * np.maximum(1.0, head / 20)
    worst = int(np.argmax(excess))
    assert excess[worst] <= 0, (what, share[worst], before[worst], after[worst], list(table[:, worst]))
