"""The floods of a year in time: going over the bank in a year, how long and with how much water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from overbank.analysis import annual, inner
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.analysis.overtopping import Probability
from overbank.outputs.in_tables import columns, figure, table_of
from overbank.outputs.output import Output, Tables
from overbank.sampling.rare_floods import OverYears
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.sampling.yearly_floods import YearlyFloods, yearly_floods

LASTING = (0.5, 1.0, 2.0, 4.0, 8.0, 12.0, 24.0)
"""How long the water may stand over the bank [hours]."""

MEAN = "threshold method over the flow and floods drawn beyond it, Student t over replicates"


@dataclass(frozen=True)
class YearsInTime:
    """The floods of a year, passed as the study has them.

    probability : of going over the bank in a year
    nobody : the same with nobody at work and no pool; None where the study has neither crew nor pool
    life : over the years of the study; None where it names none
    hours, volume : over the bank, mean of a year [hours], [m3]
    of_one : mean hours of a flood that goes over [hours]
    lasting : hours -> annual probability of standing over the bank for longer
    states, floods_of_each : states of knowledge sampled, and floods in each of them
    """

    probability: Probability
    nobody: Probability | None
    life: OverYears | None
    hours: Estimate
    volume: Estimate
    of_one: Estimate
    lasting: dict[float, Estimate]
    states: int
    floods_of_each: int


def _find(run: Run) -> YearsInTime | None:
    """None without annual maxima, or without a shape of the flood."""
    given, written = run.model.problem.annual, run.study.content.flow
    if given is None or written.hydrograph is None:
        return None
    found = yearly_floods(run.sampling, given)
    alone, _ = inner.told(found.chance, found.weights, found.shifts)
    states, variance = inner.told(found.chance * found.over, found.weights, found.shifts)
    unseen = inner.by_state(found.beyond - found.chance, found.weights)
    years, helped = given.life_years, written.crew is not None or written.pool is not None
    return YearsInTime(
        probability=annual.expected(states, states + unseen),
        nobody=annual.expected(alone, alone + unseen) if helped else None,
        life=None if years is None else OverYears(years, annual.over_years(states, years, variance)),
        hours=_mean(found, found.hours),
        volume=_mean(found, found.volume),
        of_one=_ratio(_by_state(found, found.hours), _by_state(found, found.over)),
        lasting={each: _mean(found, _longer(found.hours, each), 1.0) for each in LASTING},
        states=states.size,
        floods_of_each=found.chance.shape[2],
    )


def _mean(found: YearlyFloods, each: Array, most: float = np.inf) -> Estimate:
    """Expected in a year; not known where the samples show no flood that is large enough."""
    if not np.nanmax(found.chance) > 0.0:
        return Estimate(np.nan, np.nan, np.nan, MEAN, "in no state does any flood of the ladder go over")
    return over_replicates(np.nanmean(_by_state(found, each), axis=1), MEAN, (0.0, most))


def _by_state(found: YearlyFloods, each: Array) -> Array:
    """Expected in a year in each state of knowledge (R, S)."""
    return inner.by_state(found.chance * each, found.weights)


def _longer(hours: Array, least: float) -> Array:
    return np.where(np.isnan(hours), np.nan, hours > least)


def _ratio(hours: Array, over: Array) -> Estimate:
    """Mean hours of the floods that go over, from those of a year in each state (R, S)."""
    whole, part = np.nanmean(over, axis=1), np.nanmean(hours, axis=1)
    if not np.all(whole > 0.0):
        return Estimate(np.nan, np.nan, np.nan, MEAN, "in some replicate no flood goes over the bank")
    return over_replicates(part / whole, f"ratio of means, {MEAN}", (0.0, np.inf))


def _named(found: YearsInTime) -> dict[str, Estimate]:
    named: dict[str, Estimate] = {"probability": found.probability}
    if found.nobody is not None:
        named["probability_with_nobody_and_no_pool"] = found.nobody
    if found.life is not None:
        named[f"probability_over_{found.life.years}_years"] = found.life.probability
    named |= {
        "hours_over_bank_in_a_year": found.hours,
        "volume_over_bank_in_a_year_m3": found.volume,
        "hours_over_bank_of_one_flood": found.of_one,
    }
    return named | {f"probability_longer_than_{hours:g}_hours": each for hours, each in found.lasting.items()}


def _summary(found: YearsInTime) -> dict[str, Any]:
    said: dict[str, Any] = {name: figure(each) for name, each in _named(found).items()}
    return {
        "floods_of_a_year_in_time": said
        | {"states_of_knowledge": found.states, "floods_in_each_state": found.floods_of_each}
    }


def _tables(found: YearsInTime) -> Tables:
    rows = [{"figure": name, **columns("value", each)} for name, each in _named(found).items()]
    return {"years_in_time": table_of(rows)}


OUTPUT = Output(find=_find, stage="passing the floods of a year in time", tables=_tables, summary=_summary)
