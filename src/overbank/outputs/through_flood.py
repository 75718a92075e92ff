"""The flood in time: debris that keeps coming, a crew that may come, the highest level and when."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from overbank.analysis import allowance
from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability
from overbank.outputs.in_tables import by_share, columns, figure, table_of
from overbank.outputs.output import Output, Tables
from overbank.outputs.passed_floods import BANDS, Course, Floods, Passed, Steady, Stored
from overbank.outputs.policies import Policy, policies
from overbank.outputs.warned import ByTravel, Calls, Warned
from overbank.sampling.flood import MOST, MOST_FILLED
from overbank.sampling.run import Run
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
    warned, by_travel : the warning of the crew, and by its travel time; where there is a crew and floods reach the bank
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
    warned: Warned | None
    by_travel: ByTravel | None
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
    helped = floods.helped(alone) if floods.written.crew is not None else None
    crew = None if helped is None else floods.answers(helped)
    found = alone if helped is None else helped
    threshold, integrated = floods.by_threshold()
    level, name = (crew or nobody).level, floods.place.debris
    calls = None if helped is None else Calls(floods, alone, helped.called)
    warned = None if calls is None else calls.warned()
    return ThroughFlood(
        name=name,
        nobody=nobody,
        crew=crew,
        threshold=threshold,
        integrated=integrated,
        steady=floods.steady(found),
        allowance=None if name is None else allowance.needed(lambda share: run.model.level_of({name: share}), level),
        stored=floods.stored(found, crew=helped is not None),
        warned=warned,
        by_travel=None if calls is None or warned is None else calls.by_travel(),
        policies=policies(run, floods, found, alone, most),
        course=floods.course(found, crew=helped is not None),
    )


def _in_time(study: Study) -> bool:
    return study.content.flow.debris is not None or study.content.flow.pool is not None


def _in_short(found: Passed) -> dict[str, Any]:
    named = {"probability": found.over, "assured_highest_level_m": found.level, **found.figures}
    return {name: figure(each) for name, each in named.items()}


def _summary(found: ThroughFlood) -> dict[str, Any]:
    said: dict[str, Any] = {"input": found.name, "nobody_at_work": _in_short(found.nobody)}
    if found.crew is not None:
        said["crew"] = _in_short(found.crew)
    if found.threshold is not None:
        said["nobody_at_work_threshold_method"] = figure(found.threshold)
    if found.warned is not None:
        said["warning"] = _of_warning(found.warned)
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
        | ({} if each.warned is None else {"warning": _of_warning(each.warned)})
        for each in found.policies
    }
    return {"through_the_flood": said}


def _of_warning(found: Warned) -> dict[str, Any]:
    return {
        "mean_hours": figure(found.mean),
        "hours_not_exceeded": by_share(found.hours),
        "crew_before_bank": figure(found.in_time),
    }


def _of_pool(found: Stored) -> dict[str, Any]:
    return {
        "storage_to_bank_over_flood": by_share(found.share),
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
            **columns("median_warning_hours", NOTHING if each.warned is None else each.warned.hours[0.5]),
            **columns("crew_before_bank", NOTHING if each.warned is None else each.warned.in_time),
        }
        for each in found.policies
    ]
    return {
        "through_flood": table_of(rows),
        "course_of_flood": table_of(lines),
        "hours_over_bank": found.best.hours_over.table("hours"),
        "policies": table_of(policies),
        "warning_time": table_of([] if found.by_travel is None else _travel_rows(found.by_travel)),
        "hours_of_warning": table_of([] if found.warned is None else _warning_rows(found.warned)),
    }


def _warning_rows(found: Warned) -> list[dict[str, Any]]:
    hours = {"mean": found.mean} | {f"not exceeded with {share:g}": each for share, each in found.hours.items()}
    rows = [{"figure": name, "unit": "hours", **columns("value", each)} for name, each in hours.items()]
    return [*rows, {"figure": "crew before the bank", "unit": "share", **columns("value", found.in_time)}]


def _travel_rows(found: ByTravel) -> list[dict[str, Any]]:
    return [
        {"travel_hours": hours, **columns("in_time", share), **columns("probability", found.over[hours])}
        for hours, share in found.in_time.items()
    ]


NOTHING = Estimate(np.nan, np.nan, np.nan, "")


OUTPUT = Output(find=_find, stage="running floods in time, with their debris", tables=_tables, summary=_summary)
