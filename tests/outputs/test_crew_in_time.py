"""A crew at a real screen, with all that keeps it from work, against small explicit steps; and who calls it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from fine_steps import inflow, levels_of
from overbank.outputs.passed_floods import Floods
from overbank.outputs.warned import Calls
from overbank.run import run
from overbank.sampling import flood as steps
from overbank.sampling.passage import passage
from overbank.sampling.run import Run
from overbank.study.load import read_study
from small import BLOCKAGE, FLOW, edited, study, written

Array = NDArray[np.float64]
GAMMA = 'hydrograph = { shape = "gamma", hours_to_peak = 4.0, base_flow_m3_s = 0.5 }'
DEBRIS = 'debris = { rate_per_hour = 0.15, grows_with = "flow", ceiling = 0.9 }'
LIMITS = (
    "crew = { call_level_m = 31.0, travel_hours = { uniform = { low = 0.2, high = 2.5 } }, clears_per_hour = 0.3, "
    "not_above_m = 31.7, not_above_m_s = 0.95, fails_to_come = 0.25, daylight_hours = [5, 19] }"
)
FEW = ("samples = 4096\nreplicates = 8", "samples = 64\nreplicates = 2")
LOWER = ("mean = 32.2", "mean = 31.5")
CLEAN = (BLOCKAGE, "blockage = { beta = { a = 1.5, b = 6 } }")


def by_small_steps(floods: Floods, *, parts: int = 2000) -> tuple[Array, Array, NDArray[np.bool_], NDArray[np.bool_]]:
    """Highest level with and without the crew, whether the bank is reached without, and whether the crew works before.

    The velocity is that of the trapezoid just above, 2.5 m wide with sides 1 in 1.5 and its bed at 30.10 m.
    """
    n = floods.flood.number
    table = levels_of(floods, np.linspace(0.4, 14.0, 35), np.linspace(0.0, 0.96, 33))
    comes, midnight = floods.chance.crew >= 0.25, floods.chance.hour - 4.0
    blocked = [n("lane.screen.blockage"), n("lane.screen.blockage")]
    highest = [np.full(floods.flood.size, -np.inf) for _ in range(2)]
    called, reached = (np.full(floods.flood.size, np.inf) for _ in range(2))
    worked = np.zeros(floods.flood.size, dtype=np.bool_)
    step = 9.5 / parts
    for k in range(parts + 1):
        hours = np.full(floods.flood.size, k * step)
        flow = inflow(floods, hours)
        level = [table.at(flow, each) for each in blocked]
        highest = [np.maximum(*both) for both in zip(highest, level, strict=True)]
        called = np.where((level[1] >= 31.0) & np.isinf(called), hours, called)
        reached = np.where((level[0] >= floods.bank) & np.isinf(reached), hours, reached)
        y = level[1] - 30.10
        clock = (hours + midnight) % 24.0
        works = comes & (hours >= called + n("flow.crew.travel_hours")) & (level[1] <= 31.7)
        works &= (flow / (y * (2.5 + 1.5 * y)) <= 0.95) & (clock >= 5.0) & (clock < 19.0)
        worked |= works & np.isinf(reached)
        blocked = [b + step * 0.15 * np.maximum(1.0 - b / 0.9, 0.0) * flow / floods.flood.median for b in blocked]
        blocked[1] = np.where(works, np.maximum(blocked[1] - 0.3 * step, 0.0), blocked[1])
    return highest[1], highest[0], np.isfinite(reached), worked


def test_a_crew_that_is_kept_from_work_by_all_its_limits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By steps four times as fine as usual, for a limit is looked at where a step begins."""
    for name in ("RISING", "FALLING"):
        monkeypatch.setattr(steps, name, 4 * getattr(steps, name))
    floods = Floods(Run(study(tmp_path, FEW, LOWER, CLEAN, (FLOW, "\n".join((FLOW, GAMMA, DEBRIS, LIMITS))))), 64)
    alone, helped = (
        passage(floods.flood, floods.place, floods.chance, floods.everyone, crew=crew) for crew in (False, True)
    )
    highest, dry, reached, worked = by_small_steps(floods)
    assert np.quantile(np.abs(alone.highest - dry), 0.9) < 0.005
    assert np.max(np.abs(alone.highest - dry)) < 0.03  # straight lines between 1 155 steady levels
    assert np.quantile(np.abs(helped.highest - highest), 0.95) < 0.01
    assert np.max(np.abs(helped.highest - highest)) < 0.1  # water that stands at a limit for a moment
    found = Calls(floods, alone, helped.called).warned()
    assert found is not None
    share = np.count_nonzero(reached & worked) / np.count_nonzero(reached)
    assert found.in_time.value == pytest.approx(share, abs=0.03)
    free = (alone.highest >= floods.bank) & (helped.called + floods.flood.number("flow.crew.travel_hours") < 4.0)
    assert 0.1 < share < np.count_nonzero(free) / np.count_nonzero(reached) - 0.1  # the limits keep many away


def test_a_lower_call_level_warns_longer_and_a_patrol_shorter(tmp_path: Path) -> None:
    """Two call levels and a patrol as policies, each as a study of its own with that crew has it; the shares of the
    hours by hand from all floods."""
    crews = {
        "low": "call_level_m = 31.0",
        "high": "call_level_m = 31.4",
        "patrol": "call_level_m = 31.0, seen_every_hours = 2.0",
    }
    rest = "travel_hours = 0.5, clears_per_hour = 0.3"
    text = edited(("samples = 4096", "samples = 512"), LOWER, (FLOW, "\n".join((FLOW, GAMMA, DEBRIS))))
    arranged = "".join(
        f'\n[[alternative]]\nname = "{name}"\nset = {{ "flow.crew" = {{ {call}, {rest} }} }}\n'
        for name, call in crews.items()
    )
    found = run(read_study(written(tmp_path, text + arranged)), only=("through_flood",)).through_flood
    assert found is not None
    hours = {}
    for policy, call in zip(found.policies, crews.values(), strict=True):
        crew = f"crew = {{ {call}, {rest} }}"
        alone = run(
            read_study(written(tmp_path / policy.name, text.replace(DEBRIS, f"{DEBRIS}\n{crew}"))),
            only=("through_flood",),
        ).through_flood
        assert alone is not None
        assert alone.crew is not None
        assert policy.over == alone.crew.over
        assert policy.warned == alone.warned
        assert policy.warned is not None
        hours[policy.name] = policy.warned
    assert hours["low"].hours[0.5].value > hours["high"].hours[0.5].value
    low, patrol = hours["low"].mean.value, hours["patrol"].mean.value
    assert low - 2.0 < patrol < low - 0.3  # an hour, less where the bank is soon reached
    assert hours["patrol"].in_time.value < hours["low"].in_time.value
    low_over, high_over, patrol_over = (policy.over.value for policy in found.policies)
    assert low_over <= high_over <= found.nobody.over.value
    assert low_over <= patrol_over <= found.nobody.over.value
