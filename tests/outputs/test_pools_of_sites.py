"""Pools above real structures, a drowned road and a rated tailwater among them: against small explicit steps, the laws,
halved steps, and what is blocked at the start from records."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from fine_steps import Levels, inflow
from overbank.outputs.passed_floods import Floods
from overbank.run import run
from overbank.sampling import flood as steps
from overbank.sampling.flood import flood_of
from overbank.sampling.passage import Passage, passage
from overbank.sampling.run import Run
from overbank.study.load import read_study
from small import BLOCKAGE, FLOW, edited, written

Array = NDArray[np.float64]

GAMMA = 'hydrograph = { shape = "gamma", hours_to_peak = 1.5, base_flow_m3_s = 0.8 }'
DEBRIS = 'debris = { rate_per_hour = 0.1, grows_with = "flow", ceiling = 0.9 }'
CREW = "crew = { call_level_m = 31.2, travel_hours = 0.5, clears_per_hour = 0.3, not_above_m = 32.4 }"
FEW = ("samples = 4096\nreplicates = 8", "samples = 64\nreplicates = 2")
CLEAN = (BLOCKAGE, "blockage = { beta = { a = 1.5, b = 6 } }")
TABLE = 'pool = { table = "pool.csv" }'
MEADOW = "level_m,area_m2\n30.1,500\n32,4000\n34,9000\n"
RATED = ('level_m = { normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }', 'rating = "rating.csv"')
RATING = "flow_m3_s,level_m\n0,30.3\n3,31.2\n6,32.1\n12,33.0\n30,34.0\n"
LOW_ROAD = ("level_m = 32.6\n", "level_m = 31.6\n")

WEIR = f"""\
title = "A weir below a pond (invented)"
[run]
samples = 64
replicates = 2
[decision]
target_probability = 0.05
assurance = 0.9
[flow]
design_m3_s = {{ lognormal = {{ median = 14.0, cov = 0.2 }} }}
{GAMMA}
{TABLE}
[tailwater]
rating = "rating.csv"
[[element]]
kind = "weir"
id = "sill"
bank_level_m = 34.0
crest = {{ kind = "broad_crested", level_m = 31.2, breadth_m = 1.5 }}
approach = {{ section = {{ shape = "rectangle", width_m = 6.0 }}, bed_level_m = 30.0 }}
"""


def floods(folder: Path, *tables: str, changes: tuple[tuple[str, str], ...] = (), text: str | None = None) -> Floods:
    """Of the small study, or of another text."""
    file = written(folder, text or edited(FEW, CLEAN, (FLOW, "\n".join((FLOW, GAMMA, *tables))), *changes))
    (folder / "pool.csv").write_text(MEADOW, encoding="utf-8")
    (folder / "rating.csv").write_text(RATING, encoding="utf-8")
    return Floods(Run(read_study(file)), 64)


def meadow(level: Array) -> Array:
    """Of the table, by trapezia over 30 000 levels."""
    fine = np.linspace(30.1, 36.0, 30_001)
    areas = np.interp(fine, (30.1, 32.0, 34.0), (500.0, 4000.0, 9000.0))
    volumes = np.concatenate([[0.0], np.cumsum(0.5 * (areas[1:] + areas[:-1]) * np.diff(fine))])
    return np.asarray(np.interp(level, fine, volumes))


def garden(level: Array) -> Array:
    """Of the reach: its trapezoid under a level surface, at 400 places along its 80 m."""
    beds = 30.10 + 0.003 * (np.arange(400) + 0.5) * 0.2
    depths = np.maximum(level[..., None] - beds, 0.0)
    return np.asarray(0.2 * np.sum(depths * (2.5 + 1.5 * depths), axis=-1))


def by_small_steps(made: Floods, volume: Array, heights: Array, seconds: float) -> Array:
    """Highest level of each flood: explicit steps of what is stored, with what is blocked standing still."""
    share = made.place.blocked(made.flood)
    flows = np.linspace(0.2, 24.0, 160)
    own = np.array([made.flood.levels(made.place.changed(np.full(share.size, flow), share)) for flow in flows])
    table = Levels(flows, np.array([0.0, 1.0]), np.stack([own, own], axis=1))
    level = table.at(made.flood.flows[0], share)
    stored, highest = np.interp(level, heights, volume), level
    for k in range(int(4.5 * 1.5 * 3600.0 / seconds)):
        flow = inflow(made, np.full(made.flood.size, k * seconds / 3600.0))
        stored = np.maximum(stored + seconds * (flow - table.flow_at(level, share)), 0.0)
        level = np.interp(stored, volume, heights)
        highest = np.maximum(highest, level)
    return highest


@pytest.mark.parametrize("where", ["reach", "road drowned", "weir drowned"])
def test_a_pool_above_a_real_structure_is_that_of_small_steps(tmp_path: Path, where: str) -> None:
    heights = np.linspace(29.9, 36.0, 4001)
    if where == "reach":
        made = floods(tmp_path, 'pool = { reach = "garden", factor = 8.0 }')
        volume, pool = 8.0 * garden(heights), made.flood.pool()
        assert pool is not None
        asked = np.linspace(30.2, 33.0, 64)
        np.testing.assert_allclose(pool.volume(asked, np.arange(64)), 8.0 * garden(asked), rtol=1e-4)
    elif where == "road drowned":
        made, volume = floods(tmp_path, TABLE, changes=(RATED, LOW_ROAD)), meadow(heights)
    else:
        made, volume = floods(tmp_path, text=WEIR), meadow(heights)
    found, dry = (
        made.passed(crew=False),
        passage(made.flood, made.place, made.chance, made.everyone, crew=False, pool=False),
    )
    highest = by_small_steps(made, volume, heights, 4.0)
    np.testing.assert_allclose(found.highest, highest, atol=0.01)
    assert np.max(found.missing) < 1e-6
    assert np.mean(dry.highest - found.highest) > 0.02
    if where == "road drowned":
        below = np.interp(np.max(found.flows, axis=0), (0, 3, 6, 12, 30), (30.3, 31.2, 32.1, 33.0, 34.0))
        assert np.mean(below > 31.6) > 0.5  # the water below stands above the road


def varied(made: Floods, *changes: dict[str, float], crew: bool = False) -> list[Array]:
    """Highest levels with some numbers multiplied, all passed at once."""
    size, numbers = made.flood.size, made.flood.numbers
    names = {name for each in changes for name in each}
    whole = {
        name: np.tile(np.broadcast_to(each, size), len(changes)) if isinstance(each, np.ndarray) else each
        for name, each in numbers.items()
    }
    for name in names:
        own = made.flood.number(name)
        whole[name] = np.concatenate([each.get(name, 1.0) * own for each in changes])
    flood = flood_of(made.run.model, made.written, whole, size * len(changes))
    chosen = np.tile(made.everyone, len(changes))
    return list(passage(flood, made.place, made.chance, chosen, crew=crew).highest.reshape(len(changes), -1))


def test_the_laws_hold_above_a_culvert_with_a_road_and_above_a_weir(tmp_path: Path) -> None:
    """Never lower with flow, debris, what is blocked at the start and a later crew; never higher with storage. To a
    millimetre: the highest level lies between steps, and in a fast approach a smaller flow stands some mm higher."""
    peak, rate, start = "flow.design_m3_s", "flow.debris.rate_per_hour", "lane.screen.blockage"
    road = floods(tmp_path / "road", DEBRIS, CREW, TABLE, changes=(RATED, LOW_ROAD))
    risen: tuple[dict[str, float], ...] = ({}, {peak: 1.1}, {rate: 1.5}, {start: 1.3})
    stored = tuple({"flow.pool.factor": factor} for factor in (0.0, 0.3, 1.0, 4.0))
    before, *after = varied(road, *risen, *stored)
    for higher in after[:3]:
        assert np.all(higher >= before - 1e-3)
        assert np.mean(higher - before) > 1e-3
    weir = floods(tmp_path / "weir", text=WEIR)
    lower, higher, *others = varied(weir, {}, {peak: 1.1}, *stored)
    assert np.all(higher >= lower - 1e-3)
    for pools in (after[3:], others):
        for smaller, larger in pairwise(pools):
            assert np.all(larger <= smaller + 1e-3)
        assert np.mean(pools[0] - pools[-1]) > 0.1
    crews = varied(road, *({"flow.crew.travel_hours": factor} for factor in (0.2, 1.0, 3.0, 100.0)), crew=True)
    for early, late in pairwise(crews):
        assert np.all(late >= early - 2e-3)
    np.testing.assert_allclose(crews[-1], before, atol=1e-3)
    assert np.mean(crews[-1] - crews[0]) > 1e-3


@pytest.mark.parametrize("stored", [(), (TABLE,)], ids=["nothing stored", "a pool"])
def test_halving_the_steps_changes_little_with_a_crew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stored: tuple[str, ...]
) -> None:
    """The crew is looked at where a step begins, so that a limit or a call is met up to a step later."""

    def highest(folder: str) -> Passage:
        return floods(tmp_path / folder, DEBRIS, CREW, *stored, changes=(RATED, LOW_ROAD)).passed(crew=True)

    before = highest("before")
    for name in ("RISING", "FALLING", "DRAINED"):
        monkeypatch.setattr(steps, name, 2 * getattr(steps, name))
    after = highest("after")
    np.testing.assert_allclose(after.highest, before.highest, atol=5e-3)
    called = np.isfinite(before.called)
    assert np.count_nonzero(called) > 8
    np.testing.assert_allclose(after.called[called], before.called[called], atol=0.01)


def test_a_reach_is_a_pool_of_a_run(tmp_path: Path) -> None:
    """Storage over the flood by hand: the reach from its steady level at the base flow to the bank, over the volume."""
    changes = (FEW, CLEAN, (FLOW, "\n".join((FLOW, GAMMA, 'pool = { reach = "garden", factor = 8.0 }'))))
    found = run(read_study(written(tmp_path, edited(*changes))), only=("through_flood",)).through_flood
    assert found is not None
    assert found.stored is not None
    assert found.stored.lowered.value > 0.02
    assert found.best.level.value < found.stored.level.value
    made = floods(tmp_path, 'pool = { reach = "garden", factor = 8.0 }')
    begun = made.flood.levels(made.place.changed(made.flood.flows[0], made.place.blocked(made.flood)))
    hours = np.linspace(0.0, made.flood.times[-1, 0], 9001)
    share = (hours / 1.5 * np.exp(1.0 - hours / 1.5)) ** 3.697
    share[(share < 0.01) & (hours > 1.5)] = 0.0
    came = 3600.0 * float(np.trapezoid(0.8 + (made.flood.median - 0.8) * share, hours))
    room = 8.0 * (garden(made.bank) - garden(begun))
    assert found.stored.share[0.5].value == pytest.approx(float(np.median(room)) / came, rel=0.25)


def test_what_is_blocked_at_the_start_may_come_from_records(tmp_path: Path) -> None:
    """Every look found a quarter blocked, forty of them: the flood begins near that, and its debris comes on from there
    by its closed form."""
    days = (f"2024-{1 + i // 20:02d}-{1 + i % 20:02d}" for i in range(40))
    rows = "".join(f"lane,{day}T08:00+00:00,scheduled,yes,clear_opening,25,full\n" for day in days)
    head = "asset_id,time_start,reason,observed,blocked_basis,blocked_before_pct,cleared\n"
    (tmp_path / "visits.csv").write_text(head + rows, encoding="utf-8")
    prior = "screen, medium debris, routine raking"
    records = f'blockage = {{ records = {{ visits = "visits.csv", asset = "lane", prior = "{prior}" }} }}'
    changes = (("samples = 4096", "samples = 512"), (BLOCKAGE, records), (FLOW, "\n".join((FLOW, GAMMA, DEBRIS))))
    study = read_study(written(tmp_path, edited(*changes)))
    found = run(study, only=("through_flood",)).through_flood
    assert found is not None
    made = Floods(Run(study), 512)
    alone = made.passed(crew=False)
    start = alone.blockage[0]
    assert float(np.mean(start)) == pytest.approx(0.25, abs=0.03)
    passed = np.exp(-0.1 * made.flood.passed() / 0.9)
    below = start < 0.9
    np.testing.assert_allclose(alone.blockage[:, below], (0.9 - (0.9 - start) * passed)[:, below], atol=1e-9)
    assert found.nobody.figures["median_most_blocked"].value == pytest.approx(
        float(np.median(np.max(alone.blockage, axis=0))), abs=0.01
    )
