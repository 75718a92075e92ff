"""The flood in time: above the capacity against a closed form, and passed in time against the steady run and itself."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from overbank.errors import DomainError
from overbank.model import Model
from overbank.outputs.outcome import Outcome
from overbank.run import run
from overbank.study.build import build
from overbank.study.load import read_study
from pond import BANK, DESIGN, FLOW_SD, SHIFT_SD, pond
from pond import FLOW as MEDIAN
from small import BLOCKAGE, FLOW, edited, study, written

TRIANGLE = 'hydrograph = { shape = "triangle", hours_to_peak = 3.0, falling_ratio = 2.0 }'
GAMMA = (
    'hydrograph = { shape = "gamma", hours_to_peak = { uniform = { low = 2.0, high = 5.0 } }, base_flow_m3_s = 0.5 }'
)
NO_DEBRIS = "debris = { rate_per_hour = 0.0 }"
DEBRIS = 'debris = { rate_per_hour = 0.1, grows_with = "flow", ceiling = 0.9 }'
CREW = "crew = { call_level_m = 31.5, travel_hours = 0.5, clears_per_hour = 0.4, not_above_m = 32.5 }"
FEW = ("samples = 4096", "samples = 1024")
ASKED = ("overtopping", "headwater", "over_capacity", "through_flood")


def passed(folder: Path, *tables: str) -> Outcome:
    return run(study(folder, FEW, (FLOW, "\n".join((FLOW, *tables)))), only=ASKED)


def test_the_mean_time_above_the_capacity_is_its_closed_form(tmp_path: Path) -> None:
    """A pond whose level is 10 + Q/10 + shift: E[(1 - q*/Q)+] Tb, Q and shift normal, by SciPy on a grid of both."""
    found = run(pond(tmp_path, (DESIGN, f"{DESIGN}\n{TRIANGLE}")), only=("over_capacity",)).over_capacity
    assert found is not None
    chances = (np.arange(1500) + 0.5) / 1500
    flows, shifts = np.meshgrid(MEDIAN + FLOW_SD * norm.ppf(chances), SHIFT_SD * norm.ppf(chances))
    capacity = 10.0 * (BANK - 10.0 - shifts)
    share = np.clip(1.0 - capacity / flows, 0.0, 1.0)
    assert found.mean.value == pytest.approx(9.0 * float(np.mean(share)), rel=0.01)
    assert found.mean.low <= 9.0 * float(np.mean(share)) <= found.mean.high
    volume = float(np.mean(share**2 * flows)) * 9.0 * 3600.0 / 2.0
    assert found.volume.value == pytest.approx(volume, rel=0.02)


def test_without_debris_the_flood_in_time_is_the_steady_run(tmp_path: Path) -> None:
    made = passed(tmp_path, GAMMA, NO_DEBRIS)
    found = made.through_flood
    assert found is not None
    assert found.nobody.over == made.overtopping.plain
    assert found.nobody.level.value == pytest.approx(
        np.quantile(made.samples.levels, 0.9, method="inverted_cdf"), abs=1e-9
    )
    # under a garden the water at a somewhat smaller flow stands some mm higher in a few floods, for it is slower there
    assert all(0.0 <= each.missed.value < 2e-4 for each in found.steady)
    assert found.nobody.figures["median_hours_after_peak"].value == pytest.approx(0.0, abs=1e-12)
    assert made.over_capacity is not None
    alone, steps = made.over_capacity.mean, found.nobody.figures["mean_hours_over_bank"]
    assert steps.value == pytest.approx(alone.value, rel=0.01)  # by straight lines between steps
    volume = found.nobody.figures["mean_volume_over_bank_m3"]
    assert volume.value == pytest.approx(made.over_capacity.volume.value, rel=0.02)


def test_debris_a_crew_and_the_threshold_method(tmp_path: Path) -> None:
    made = passed(tmp_path, GAMMA, DEBRIS, CREW)
    found = made.through_flood
    assert found is not None
    assert found.crew is not None
    assert found.threshold is not None
    assert found.name == found.integrated == "lane.screen.blockage"
    assert found.nobody.over.value > made.overtopping.plain.value
    assert found.crew.over.value < found.nobody.over.value
    low, high = found.nobody.over.low, found.nobody.over.high
    assert found.threshold.low < high
    assert found.threshold.high > low
    at_peak, most = found.steady
    assert at_peak.missed.value > 0.0 > most.missed.value
    assert 0.0 < found.allowance.value < 1.0
    again = Model(build(made.study)).level_of({found.name: found.allowance.value})
    assert again == pytest.approx(found.best.level.value, abs=1e-4)
    assert found.warned is not None
    assert found.by_travel is not None
    assert found.warned.in_time == found.by_travel.in_time[0.5]  # its own travel time
    shares = [each.value for each in found.by_travel.in_time.values()]
    assert shares == sorted(shares, reverse=True)
    over = [each.value for each in found.by_travel.over.values()]
    assert np.all(np.diff(over) >= -1e-3)
    assert found.nobody.over.value + 1e-3 >= over[-1] > over[0]


def test_a_crew_called_by_a_forecast_has_a_warning_time_too(tmp_path: Path) -> None:
    """Called before any bank is reached, it has at least the hours of the forecast where the bank is reached later."""
    forecast = "crew = { called_hours_before_peak = 2.0, travel_hours = 0.5, clears_per_hour = 0.4 }"
    fixed = GAMMA.replace("{ uniform = { low = 2.0, high = 5.0 } }", "3.0")
    debris = (BLOCKAGE, "blockage = { beta = { a = 2, b = 3 } }"), ("mean = 32.2", "mean = 31.8")
    changes = (FLOW, "\n".join((FLOW, fixed, DEBRIS, forecast)))
    found = run(
        study(tmp_path, ("samples = 4096", "samples = 512"), changes, *debris), only=("through_flood",)
    ).through_flood
    assert found is not None
    assert found.warned is not None
    assert found.by_travel is not None
    assert 0.9 < found.by_travel.in_time[0.0].value < 1.0  # some stand over the bank before the forecast calls
    hours = [each.value for each in found.warned.hours.values()]
    assert hours[0] > 0.0
    assert hours == sorted(hours)
    assert 0.5 < hours[2] < 2.5  # the bank is reached near the peak
    assert hours[0] < found.warned.mean.value < hours[-1]


def test_policies_are_passed_by_the_same_floods(tmp_path: Path) -> None:
    """An alternative that changes nothing differs by nothing; one without its crew is the study with nobody at work."""
    same = '\n[[alternative]]\nname = "same"\nset = { "flow.crew.travel_hours" = 0.5 }\n'
    without = '\n[[alternative]]\nname = "without"\nremove = ["flow.crew"]\n'
    tables = "\n".join((FLOW, GAMMA, DEBRIS, CREW))
    file = written(tmp_path, edited(FEW, (FLOW, tables)) + same + without)
    found = run(read_study(file), only=("through_flood",)).through_flood
    assert found is not None
    unchanged, nobody = found.policies
    assert (unchanged.change.value, unchanged.change_of_hours.value) == (0.0, 0.0)
    assert nobody.over == found.nobody.over
    assert nobody.change.value == pytest.approx(nobody.over.value - found.best.over.value, abs=1e-12)
    assert nobody.change.low > 0.0


def test_a_pool_lowers_the_water_and_says_how_large_it_is(tmp_path: Path) -> None:
    """Storage over the flood by hand: a vertical pond of 5000 m2 from the level at the start to the bank, and the
    triangle's volume."""
    fixed = 'hydrograph = { shape = "triangle", hours_to_peak = 3.0, falling_ratio = 2.0 }'
    (tmp_path / "pool.csv").write_text("level_m,area_m2\n29,5000\n33,5000\n", encoding="utf-8")
    pool = 'pool = { table = "pool.csv" }'
    made = run(
        study(tmp_path, ("samples = 4096", "samples = 128"), (FLOW, "\n".join((FLOW, fixed, DEBRIS, pool)))),
        only=("through_flood",),
    )
    found = made.through_flood
    assert found is not None
    assert found.stored is not None
    assert found.threshold is None
    assert found.stored.lowered.low > 0.0
    assert found.stored.later.low > 0.0
    assert found.best.over.value <= found.stored.over.value
    assert found.best.level.value < found.stored.level.value
    assert found.stored.missing < 1e-6
    assert found.stored.unfinished == 0.0
    assert found.stored.share[0.5].value == pytest.approx(5000.0 * (32.2 - 31.0) / (0.5 * 6.0 * 9.0 * 3600.0), rel=0.1)


def test_what_a_policy_removes_for_each_unit_of_its_cost(tmp_path: Path) -> None:
    """By hand: the change over the cost, with a year of maintenance."""
    arranged = '\n[[alternative]]\nname = "without"\nremove = ["flow.crew"]\ncost = 300\nmaintenance_a_year = 100\n'
    nearer = '\n[[alternative]]\nname = "nearer"\nset = { "flow.crew.travel_hours" = 0.1 }\n'
    tables = "\n".join((FLOW, GAMMA, DEBRIS, CREW))
    file = written(tmp_path, edited(("samples = 4096", "samples = 512"), (FLOW, tables)) + arranged + nearer)
    found = run(read_study(file), only=("through_flood",)).through_flood
    assert found is not None
    without, free = found.policies
    assert without.removed is not None
    assert without.removed.value == pytest.approx(-without.change.value / 400.0, rel=1e-12)
    assert (without.removed.low, without.removed.high) == (-without.change.high / 400.0, -without.change.low / 400.0)
    assert free.removed is None


def test_where_nothing_can_be_blocked_the_debris_is_refused(tmp_path: Path) -> None:
    changed = pond(tmp_path, (DESIGN, f"{DESIGN}\n{TRIANGLE}\ndebris = {{ rate_per_hour = 0.1 }}"))
    with pytest.raises(DomainError, match="expected something that debris can block at pond or below it; got none"):
        run(changed, only=("through_flood",))


def test_a_study_without_a_shape_has_neither(tmp_path: Path) -> None:
    made = run(study(tmp_path, FEW), only=("over_capacity", "through_flood"))
    assert made.over_capacity is None
    assert made.through_flood is None
