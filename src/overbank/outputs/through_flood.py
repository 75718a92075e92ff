"""The flood in time: debris that keeps coming, a crew that may come, the highest level and when."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from overbank.analysis import allowance, damage
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.analysis.overtopping import Probability
from overbank.outputs.in_tables import columns, figure, table_of
from overbank.outputs.output import Output, Tables
from overbank.outputs.passed_floods import BANDS, PAIRED, Course, Floods, Passed, Policy, Steady, Stored, Warning
from overbank.sampling.flood import MOST, MOST_FILLED
from overbank.sampling.moments import time_over
from overbank.sampling.passage import Passage
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.study.load import Study


@dataclass(frozen=True)
class ThroughFlood:
    """The flood in time.

    name : dotted path of the blockage that the debris adds to; None where nothing can be blocked
    nobody, crew : with nobody at work, and with the crew of the study, where there is one
    threshold, integrated : probability with nobody at work by the threshold method, and over which input
    steady : what steady runs at the peak give
    allowance : the blockage that makes one steady run at the medians give the level with the assurance, where there is
        one
    stored : what the pool of the study does, where it has one
    warning : where a crew is called at a level and some flood reaches the bank
    policies : the alternatives of the study
    course : of the floods as the study has them
    """

    name: str | None
    nobody: Passed
    crew: Passed | None
    threshold: Probability | None
    integrated: str | None
    steady: tuple[Steady, ...]
    allowance: Estimate | None
    stored: Stored | None
    warning: Warning | None
    policies: tuple[Policy, ...]
    course: Course

    @property
    def best(self) -> Passed:
        """The floods as the study has them."""
        return self.nobody if self.crew is None else self.crew


def _find(run: Run) -> ThroughFlood | None:
    """None where the study gives the flood neither debris nor a pool."""
    if not _in_time(run.study):
        return None
    studies = run.study, *(run.study.alternative(name) for name in run.study.alternatives)
    most = MOST if all(each.content.flow.pool is None for each in studies) else MOST_FILLED
    floods = Floods(run, most)
    alone = floods.passed(crew=False)
    nobody = floods.answers(alone)
    helped = floods.passed(crew=True) if floods.written.crew is not None else None
    crew = None if helped is None else floods.answers(helped)
    found = alone if helped is None else helped
    threshold, integrated = floods.by_threshold()
    level, name = (crew or nobody).level, floods.place.debris
    return ThroughFlood(
        name=name,
        nobody=nobody,
        crew=crew,
        threshold=threshold,
        integrated=integrated,
        steady=floods.steady(found),
        allowance=None if name is None else allowance.needed(lambda share: run.model.level_of({name: share}), level),
        stored=floods.stored(found, crew=helped is not None),
        warning=floods.warning(alone),
        policies=_policies(run, floods, found, most),
        course=floods.course(found),
    )


def _in_time(study: Study) -> bool:
    return study.content.flow.debris is not None or study.content.flow.pool is not None


def _policies(run: Run, floods: Floods, found: Passage, most: int) -> tuple[Policy, ...]:
    """Every alternative that has debris in time or a pool, on the same floods."""
    each = []
    own = _counted(floods, found)
    for name in run.study.alternatives:
        changed = run.study.alternative(name)
        if not _in_time(changed):
            continue
        run.report(f"through the flood: {name}")
        other = Floods(Run(changed, run.columns, runs=run.model.runs), most)
        passed = other.passed(crew=True)
        over, hours = (over_replicates(a - b, PAIRED) for a, b in zip(_counted(other, passed), own, strict=True))
        each.append(Policy(name, other.over(passed.highest), over, hours, _removed(over, _cost(run.study, name))))
    return tuple(each)


def _cost(study: Study, name: str) -> float:
    """Of an alternative beyond the site as it stands: to make it, and its maintenance over the life of [money], or of a
    year without."""
    (own,) = (each for each in study.content.alternative if each.name == name)
    money = study.content.money
    if money is None:
        return own.cost + own.maintenance_a_year
    more = own.maintenance_a_year - money.maintenance_a_year
    return own.cost + damage.annuity(money.discount_rate, money.life_years) * more


def _removed(change: Estimate, cost: float) -> Estimate | None:
    """Probability removed for each unit of cost; None where it costs nothing more."""
    if cost <= 0.0:
        return None
    return Estimate(-change.value / cost, -change.high / cost, -change.low / cost, change.method, change.note)


def _counted(floods: Floods, found: Passage) -> tuple[Array, Array]:
    """Share of the samples over the bank, and mean time over it [hours], in each replicate."""
    depths = found.levels - floods.bank
    over = np.where(np.isnan(found.highest), np.nan, found.highest > floods.bank)
    hours = np.where(np.isnan(found.highest), np.nan, time_over(found.times, depths))
    return np.nanmean(floods.table(over), axis=1), np.nanmean(floods.table(hours), axis=1)


def _in_short(found: Passed) -> dict[str, Any]:
    named = {"probability": found.over, "assured_highest_level_m": found.level, **found.figures}
    return {name: figure(each) for name, each in named.items()}


def _summary(found: ThroughFlood) -> dict[str, Any]:
    said: dict[str, Any] = {"input": found.name, "nobody_at_work": _in_short(found.nobody)}
    if found.crew is not None:
        said["crew"] = _in_short(found.crew)
    if found.threshold is not None:
        said["nobody_at_work_threshold_method"] = figure(found.threshold)
    if found.allowance is not None:
        said["allowance_of_one_steady_run"] = figure(found.allowance)
    if found.stored is not None:
        said["pool"] = _of_pool(found.stored)
    said["steady_runs"] = {
        each.words: {"probability": figure(each.over), "level_m": figure(each.level), "missed_m": figure(each.missed)}
        for each in found.steady
    }
    said["policies"] = {
        each.name: {"probability": figure(each.over), "change_of_probability": figure(each.change)}
        | ({} if each.removed is None else {"removed_for_each_unit_of_cost": figure(each.removed)})
        for each in found.policies
    }
    return {"through_the_flood": said}


def _of_pool(found: Stored) -> dict[str, Any]:
    return {
        "storage_to_bank_over_flood": {f"{share:g}": figure(each) for share, each in found.share.items()},
        "probability_without": figure(found.over),
        "assured_highest_level_without_m": figure(found.level),
        "lowers_highest_level_m": figure(found.lowered),
        "later_hours": figure(found.later),
        "still_over_bank_at_the_end": round(found.unfinished, 6),
        "missing_from_the_water_balance": float(f"{found.missing:.1e}"),
    }


def _tables(found: ThroughFlood) -> Tables:
    ways = {"nobody at work": found.nobody, **({"crew": found.crew} if found.crew else {})}
    rows = [
        {"way": way, "figure": name, **columns("value", each)}
        for way, passed in ways.items()
        for name, each in {
            "probability": passed.over,
            "assured_highest_level_m": passed.level,
            **passed.figures,
        }.items()
    ]
    course = found.course
    moments = {"hours": course.hours} | {
        f"{name}_{100.0 * share:.0f}": row
        for name in ("flow", "blockage", "level")
        for share, row in zip(BANDS, getattr(course, name), strict=True)
    }
    lines = [dict(zip(moments, each, strict=True)) for each in zip(*moments.values(), strict=True)]
    policies = [
        {
            "arrangement": each.name,
            **columns("probability", each.over),
            **columns("change_of_probability", each.change),
            **columns("change_of_hours_over_bank", each.change_of_hours),
            **columns("removed_for_each_unit_of_cost", each.removed or NOTHING),
        }
        for each in found.policies
    ]
    warning = [] if found.warning is None else _by_travel(found.warning)
    return {
        "through_flood": table_of(rows),
        "course_of_flood": table_of(lines),
        "hours_over_bank": found.best.hours_over.table("hours"),
        "policies": table_of(policies),
        "warning_time": table_of(warning),
    }


def _by_travel(found: Warning) -> list[dict[str, Any]]:
    return [
        {"travel_hours": hours, **columns("in_time", share), **columns("probability", found.over[hours])}
        for hours, share in found.in_time.items()
    ]


NOTHING = Estimate(np.nan, np.nan, np.nan, "")


OUTPUT = Output(find=_find, stage="running floods in time, with their debris", tables=_tables, summary=_summary)
