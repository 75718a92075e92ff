"""The flood in time: debris that keeps coming, a crew that may come, the highest level and when."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overbank.analysis import allowance, exceedance, overtopping
from overbank.analysis import ladder as rungs
from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.analysis.overtopping import Probability
from overbank.analysis.short_ladder import critical_values
from overbank.outputs.in_tables import columns, figure, table_of
from overbank.outputs.output import Output, Tables
from overbank.sampling.conditional import short_nodes
from overbank.sampling.flood import MOST, draws, flood_of, opening
from overbank.sampling.passage import Passage, between, capacities, crossed, passage, time_over
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.site.numbers import FLOW
from overbank.study.passing import CREW, SHAPE

TRAVELS = (0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0)
"""Travel times of a crew that are set against the warning time [hours]."""

LADDER = 1024
"""Samples of the threshold method, the first ones of every replicate: a flood in time costs some fifty runs."""

TOLERANCE = 1e-3
"""On a critical value, as a share of the range of its input."""

MOMENTS, BANDS = 73, (0.05, 0.5, 0.95)
"""Moments of the pictures, and the quantiles shown."""

MEAN = "mean of the samples, Student t over replicates"
PAIRED = "difference on the same floods, Student t over replicates"


@dataclass(frozen=True)
class Passed:
    """Answers of the floods with or without a crew.

    over : probability of going over the bank at any moment, by counting samples
    level : highest level that holds with the assurance [m]
    figures : others by name, the unit at its end
    hours_over : P(the water stands over the bank for longer than so many hours)
    """

    over: Probability
    level: Estimate
    figures: dict[str, Estimate]
    hours_over: Curve


@dataclass(frozen=True)
class Steady:
    """What one steady run at the peak of the flow gives, with what is blocked at that moment or at most.

    words : which blockage; over : its probability of going over the bank; level : with the assurance [m]
    missed : mean of the highest level in time minus its level [m]
    """

    words: str
    over: Probability
    level: Estimate
    missed: Estimate


@dataclass(frozen=True)
class Warning:
    """From the level at which the crew is called to the bank.

    hours : quantile -> hours, among the floods that reach the bank with nobody at work
    in_time : travel time [hours] -> share of these floods in which a crew that comes arrives before the bank is reached
    """

    hours: dict[float, Estimate]
    in_time: dict[float, Estimate]


@dataclass(frozen=True)
class Policy:
    """An arrangement on the same floods: its probability of going over the bank, and the change against the study."""

    name: str
    over: Probability
    change: Estimate
    change_of_hours: Estimate


@dataclass(frozen=True)
class Course:
    """Quantiles over the samples at every moment; shape (quantiles, moments)."""

    hours: Array
    flow: Array
    blockage: Array
    level: Array


@dataclass(frozen=True)
class ThroughFlood:
    """The flood in time, without storage.

    name : dotted path of the blockage that the debris adds to
    nobody, crew : with nobody at work, and with the crew of the study, where there is one
    threshold, integrated : probability with nobody at work by the threshold method, and over which input
    steady : what steady runs at the peak give
    allowance : the blockage that makes one steady run at the medians give the level with the assurance
    warning : where a crew is called at a level and some flood reaches the bank
    policies : the alternatives of the study
    course : of the floods as the study has them
    """

    name: str
    nobody: Passed
    crew: Passed | None
    threshold: Probability | None
    integrated: str | None
    steady: tuple[Steady, ...]
    allowance: Estimate
    warning: Warning | None
    policies: tuple[Policy, ...]
    course: Course

    @property
    def best(self) -> Passed:
        """The floods as the study has them."""
        return self.nobody if self.crew is None else self.crew


class _Floods:
    """The samples of a run with their floods, and what chance does in them."""

    def __init__(self, run: Run) -> None:
        self.run, self.sampling = run, run.sampling
        self.written = self.sampling.study.content.flow
        self.name = opening(run.model.problem, run.model.place)
        self.chosen = self.sampling.chosen(MOST)
        self.everyone = np.arange(self.chosen.size)
        self.rows = self.sampling.rows[self.chosen]
        self.flood = flood_of(run.model, self.written, run.model.numbers(self.rows), self.chosen.size)
        self.chance = draws(self.sampling, self.chosen.size)
        self.bank = self.sampling.held(self.sampling.banks[self.sampling.at]).ravel()[self.chosen]

    def table(self, values: Array) -> Array:
        """(R, n)."""
        return values.reshape(self.sampling.shape[0], -1)

    def passed(self, *, crew: bool) -> Passage:
        """The floods of all samples."""
        return passage(self.flood, self.name, self.chance, self.everyone, crew=crew)

    def volume_over(self, found: Passage) -> Array:
        """Volume above the capacity of the moment [m3], by trapezia: what the site cannot pass below the bank."""
        step, each = np.nonzero(found.levels > self.bank)
        flows = found.flows[step, each]
        changed = {FLOW: flows, self.name: found.blockage[step, each]}
        excess = np.zeros_like(found.flows)
        excess[step, each] = flows - capacities(self.flood, changed, each, self.bank[each])
        steps = np.diff(found.times, axis=0)
        return np.asarray(3600.0 * np.sum(0.5 * steps * (excess[1:] + excess[:-1]), axis=0))

    def level(self, levels: Array) -> Estimate:
        """With the assurance of the study."""
        return self.quantile(levels, self.sampling.decision.assurance)

    def quantile(self, values: Array, share: float) -> Estimate:
        """Not exceeded with a share."""
        return exceedance.plain_quantile(self.table(values), 1.0 - share, self.sampling.settings.design)

    def over(self, levels: Array) -> Probability:
        """Probability of standing above the bank."""
        return overtopping.plain(self.table(levels - self.bank), self.sampling.settings.design)

    def mean(self, values: Array, method: str = MEAN) -> Estimate:
        """Mean of the samples that have a finite number."""
        table = self.table(np.where(np.isfinite(values), values, np.nan))
        if np.isnan(table).all(axis=1).any():
            return Estimate(np.nan, np.nan, np.nan, method, "endless or unknown in all samples of a replicate")
        return over_replicates(np.nanmean(table, axis=1), method)

    def answers(self, found: Passage) -> Passed:
        """The figures of the floods."""
        depths = found.levels - self.bank
        hours = np.where(np.isnan(found.highest), np.nan, time_over(found.times, depths))
        late = found.when - self.flood.number(f"{SHAPE}.hours_to_peak")
        most, assured = np.max(found.blockage, axis=0), self.sampling.decision.assurance
        figures = {
            "median_highest_level_m": self.quantile(found.highest, 0.5),
            "median_hours_after_peak": self.quantile(late, 0.5),
            "mean_hours_over_bank": self.mean(hours),
            "assured_hours_over_bank": self.quantile(hours, assured),
            "mean_volume_over_bank_m3": self.mean(self.volume_over(found)),
            "median_most_blocked": self.quantile(most, 0.5),
            "assured_most_blocked": self.quantile(most, assured),
        }
        finite = hours[np.isfinite(hours)]
        longest = max(float(np.quantile(finite, 0.9995)) if finite.size else 0.0, 0.01)
        curve = exceedance.plain(self.table(hours), np.linspace(0.0, longest, 101))
        return Passed(self.over(found.highest), self.level(found.highest), figures, curve)

    def steady(self, found: Passage) -> tuple[Steady, ...]:
        """Steady runs at the peak of the flow."""
        peak = np.argmax(found.flows, axis=0), self.everyone
        blocked = {
            "with what is blocked when the flow peaks": found.blockage[peak],
            "with the most that is ever blocked": np.max(found.blockage, axis=0),
        }
        each = []
        for words, share in blocked.items():
            levels = self.flood.levels({FLOW: self.flood.peak, self.name: share})
            with np.errstate(invalid="ignore"):  # both are endless
                missed = self.mean(found.highest - levels, PAIRED)
            each.append(Steady(words, self.over(levels), self.level(levels), missed))
        return tuple(each)

    def warning(self, found: Passage) -> Warning | None:
        """None without a crew that is called at a level, or where no replicate can tell."""
        crew = self.written.crew
        reached = crossed(found.times, found.levels - self.bank)
        if crew is None or crew.call_level_m is None or not np.isfinite(self.table(reached)).any(axis=1).all():
            return None
        called = crossed(found.times, found.levels - self.flood.number(f"{CREW}.call_level_m"))
        with np.errstate(invalid="ignore"):
            hours = np.where(np.isfinite(reached), np.maximum(reached - called, 0.0), np.nan)
        table = self.table(hours)
        shares = {t: np.nansum(table >= t, axis=1) / np.sum(~np.isnan(table), axis=1) for t in TRAVELS}
        told = "share of the floods that reach the bank, Student t over replicates"
        return Warning(
            {share: replace(self.quantile(hours, share), note="") for share in (0.1, 0.5, 0.9)},
            {travel: over_replicates(each, told, (0.0, 1.0)) for travel, each in shares.items()},
        )

    def course(self, found: Passage) -> Course:
        """From the beginning until 95 % of the floods are over."""
        hours = np.linspace(0.0, float(np.quantile(found.times[-1], 0.95)), MOMENTS)
        tables = []
        for values in (found.flows, found.blockage, found.levels):
            finite = np.where(np.isfinite(values), values, np.nan)
            at = [between(found.times, finite, np.minimum(hour, found.times[-1])) for hour in hours]
            tables.append(np.array([_bands(each[~np.isnan(each)]) for each in at]).T)
        return Course(hours, *tables)

    def by_threshold(self) -> tuple[Probability | None, str | None]:
        """P(over the bank, nobody at work), the start blockage or the flow integrated out, on the first samples."""
        choice = self.run.choice
        integrated = None if choice is None else choice.name
        if integrated not in (self.name, FLOW):
            return None, None
        first = self.sampling.chosen(min(LADDER, self.chosen.size))
        own = np.flatnonzero(np.isin(self.chosen, first))
        inputs = self.sampling.inputs
        column = inputs.index(integrated)
        distribution = inputs.items[column].distribution
        nodes = short_nodes(integrated, distribution)
        depth_over_bank = _Depth(self, column, own)
        found = critical_values(depth_over_bank, nodes, own.size, TOLERANCE * float(np.ptp(nodes)))
        given = inputs.copula.conditional(column)
        z = self.sampling.z.reshape(-1, inputs.dimension)[self.chosen[own]]
        mean = np.delete(z, column, axis=1) @ given.weights
        tails = rungs.tail_probability(found.value, distribution.score_below, mean, given.spread)
        return overtopping.threshold(self.table(tails)), integrated


def _bands(known: Array) -> Array:
    return np.asarray(np.quantile(known, BANDS)) if known.size else np.full(len(BANDS), np.nan)


class _Depth:
    """Highest level minus bank with one input set."""

    def __init__(self, floods: _Floods, column: int, own: NDArray[np.intp]) -> None:
        self.floods, self.column, self.own = floods, column, own

    def __call__(self, numbers: Array, case: NDArray[np.intp]) -> Array:
        floods, chosen = self.floods, self.own[case]
        rows = floods.rows[chosen]
        rows[:, self.column] = numbers
        flood = flood_of(floods.run.model, floods.written, floods.run.model.numbers(rows), chosen.size)
        return passage(flood, floods.name, floods.chance, chosen, crew=False).highest - floods.bank[chosen]


def _find(run: Run) -> ThroughFlood | None:
    """None where the study gives the flood no debris of its own."""
    if run.study.content.flow.debris is None:
        return None
    floods = _Floods(run)
    alone = floods.passed(crew=False)
    nobody = floods.answers(alone)
    helped = floods.passed(crew=True) if floods.written.crew is not None else None
    crew = None if helped is None else floods.answers(helped)
    found = alone if helped is None else helped
    threshold, integrated = floods.by_threshold()
    level = (crew or nobody).level
    return ThroughFlood(
        name=floods.name,
        nobody=nobody,
        crew=crew,
        threshold=threshold,
        integrated=integrated,
        steady=floods.steady(found),
        allowance=allowance.needed(lambda share: run.model.level_of({floods.name: share}), level),
        warning=floods.warning(alone),
        policies=_policies(run, floods, found),
        course=floods.course(found),
    )


def _policies(run: Run, floods: _Floods, found: Passage) -> tuple[Policy, ...]:
    """Every alternative that has debris in time, on the same floods."""
    each = []
    own = _counted(floods, found)
    for name in run.study.alternatives:
        changed = run.study.alternative(name)
        if changed.content.flow.debris is None:
            continue
        run.report(f"through the flood: {name}")
        other = _Floods(Run(changed, run.columns, runs=run.model.runs))
        passed = other.passed(crew=True)
        over, hours = (over_replicates(a - b, PAIRED) for a, b in zip(_counted(other, passed), own, strict=True))
        each.append(Policy(name, other.over(passed.highest), over, hours))
    return tuple(each)


def _counted(floods: _Floods, found: Passage) -> tuple[Array, Array]:
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
    said["allowance_of_one_steady_run"] = figure(found.allowance)
    said["steady_runs"] = {
        each.words: {"probability": figure(each.over), "level_m": figure(each.level), "missed_m": figure(each.missed)}
        for each in found.steady
    }
    said["policies"] = {
        each.name: {"probability": figure(each.over), "change_of_probability": figure(each.change)}
        for each in found.policies
    }
    return {"through_the_flood": said}


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
        }
        for each in found.policies
    ]
    warning = [] if found.warning is None else found.warning.in_time.items()
    return {
        "through_flood": table_of(rows),
        "course_of_flood": table_of(lines),
        "hours_over_bank": found.best.hours_over.table("hours"),
        "policies": table_of(policies),
        "warning_time": table_of({"travel_hours": t, **columns("in_time", share)} for t, share in warning),
    }


OUTPUT = Output(find=_find, stage="passing the flood in time", tables=_tables, summary=_summary)
