"""Floods passed in time: what is told of them, found from the samples of a run."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overbank.analysis import exceedance, overtopping
from overbank.analysis import ladder as rungs
from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate, over_replicates, share_over_replicates
from overbank.analysis.overtopping import Probability
from overbank.analysis.short_ladder import critical_values
from overbank.sampling.conditional import short_nodes
from overbank.sampling.flood import HOUR, draws, flood_of, place_of
from overbank.sampling.moments import between, crossed, time_over
from overbank.sampling.passage import Passage, passage, volume_over
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.site.numbers import FLOW
from overbank.study.passing import CREW, SHAPE

TRAVELS = (0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0)
"""Travel times of a crew that are set against the warning time [hours]."""

LADDER, LADDER_FILLED = 1024, 256
"""Samples of the threshold method and of the other travel times, without and with a pool, the first ones of every
replicate: a flood in time costs some fifty runs, one that fills a pool some four hundred."""

TOLERANCE = 1e-3
"""On a critical value, as a share of the range of its input."""

MOMENTS, BANDS, COURSE = 73, (0.05, 0.5, 0.95), 2048
"""Moments of the pictures, the quantiles shown, and the samples that they are of."""

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
    """From the call of the crew, at a level, at a rise or by a forecast, to the bank.

    hours : quantile -> hours, among the floods that reach the bank with nobody at work
    in_time : travel time [hours] -> share of these floods in which a crew that comes arrives before the bank is reached
    over : travel time [hours] -> probability of going over the bank with the crew of the study so far away, from the
        first samples
    """

    hours: dict[float, Estimate]
    in_time: dict[float, Estimate]
    over: dict[float, Probability]


@dataclass(frozen=True)
class Policy:
    """An arrangement on the same floods: its probability of going over the bank, and the change against the study.

    removed : probability that it removes for each unit of its cost [1/money]; None where the study gives no cost
    """

    name: str
    over: Probability
    change: Estimate
    change_of_hours: Estimate
    removed: Estimate | None


@dataclass(frozen=True)
class Stored:
    """What the pool of the study does, on the same floods.

    share : quantile -> what it holds from the level at the start to the bank, over the volume of the flood
    over, level : without it: probability of going over the bank, and level with the assurance [m]
    lowered, later : mean by which it lowers the highest level [m], and by which that comes later [hours]
    unfinished : share of the floods that still stand over the bank when they are followed no longer
    missing : the largest share of a flood's water that is missing from the balance
    """

    share: dict[float, Estimate]
    over: Probability
    level: Estimate
    lowered: Estimate
    later: Estimate
    unfinished: float
    missing: float


@dataclass(frozen=True)
class Course:
    """Quantiles over the samples at every moment; shape (quantiles, moments)."""

    hours: Array
    flow: Array
    blockage: Array
    level: Array


class Floods:
    """The samples of a run with their floods, and what chance does in them."""

    def __init__(self, run: Run, most: int) -> None:
        self.run, self.sampling = run, run.sampling
        self.written = self.sampling.study.content.flow
        self.place = place_of(run.model, self.written)
        self.chosen = self.sampling.chosen(most)
        self.everyone = np.arange(self.chosen.size)
        self.rows = self.sampling.rows[self.chosen]
        self.flood = flood_of(run.model, self.written, run.model.numbers(self.rows), self.chosen.size)
        self.chance = draws(self.sampling, self.chosen.size)
        self.bank = self.sampling.held(self.sampling.banks[self.sampling.at]).ravel()[self.chosen]

    def table(self, values: Array) -> Array:
        """(R, n)."""
        return values.reshape(self.sampling.shape[0], -1)

    def passed(self, *, crew: bool, pool: bool = True) -> Passage:
        """The floods of all samples. With neither crew nor pool those that stay below the bank have no other levels."""
        return passage(self.flood, self.place, self.chance, self.everyone, crew=crew, pool=pool, told_above=self.bank)

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
        to_peak = self.flood.number(f"{SHAPE}.hours_to_peak")
        late = found.when - to_peak
        assured = self.sampling.decision.assurance
        volume = np.where(np.isnan(hours), np.nan, volume_over(self.flood, self.place, found, self.bank))
        figures = {
            "median_highest_level_m": self.quantile(found.highest, 0.5),
            "median_hours_after_peak": self.quantile(late, 0.5),
            "mean_hours_over_bank": self.mean(hours),
            "assured_hours_over_bank": self.quantile(hours, assured),
            "mean_volume_over_bank_m3": self.mean(volume),
            "assured_volume_over_bank_m3": self.quantile(volume, assured),
        }
        if self.written.debris is not None:
            most = np.max(found.blockage, axis=0)
            fullest = found.times[np.argmax(found.blockage, axis=0), self.everyone] - to_peak
            figures |= {
                "median_most_blocked": self.quantile(most, 0.5),
                "assured_most_blocked": self.quantile(most, assured),
                "median_hours_most_blocked_after_peak": self.quantile(fullest, 0.5),
            }
        finite = hours[np.isfinite(hours)]
        longest = max(float(np.quantile(finite, 0.9995)) if finite.size else 0.0, 0.01)
        curve = exceedance.plain(self.table(hours), np.linspace(0.0, longest, 101))
        return Passed(self.over(found.highest), self.level(found.highest), figures, curve)

    def steady(self, found: Passage) -> tuple[Steady, ...]:
        """Steady runs at the peak of the flow."""
        peak = np.argmax(self.flood.flows, axis=0), self.everyone
        blocked = {
            "with what is blocked when the flow peaks": found.blockage[peak],
            "with the most that is ever blocked": np.max(found.blockage, axis=0),
        }
        if self.written.debris is None:
            blocked = {"with what is blocked": found.blockage[0]}
        each = []
        for words, share in blocked.items():
            levels = self.flood.levels(self.place.changed(self.flood.peak, share))
            with np.errstate(invalid="ignore"):  # both are endless
                missed = self.mean(found.highest - levels, PAIRED)
            each.append(Steady(words, self.over(levels), self.level(levels), missed))
        return tuple(each)

    def warning(self, found: Passage, called: Array) -> Warning | None:
        """Of floods with nobody at work, a crew being called at some hour of each; None where no replicate can tell."""
        reached = crossed(found.times, found.levels - self.bank)
        if not np.isfinite(self.table(reached)).any(axis=1).all():
            return None
        with np.errstate(invalid="ignore"):
            hours = np.where(np.isfinite(reached), np.maximum(reached - called, 0.0), np.nan)
        table = self.table(hours)
        told_by = np.sum(~np.isnan(table), axis=1)
        shares = {t: np.nansum(table >= t, axis=1) / told_by for t in TRAVELS}
        told = "share of the floods that reach the bank, Student t over replicates"
        return Warning(
            {share: replace(self.quantile(hours, share), note="") for share in (0.1, 0.5, 0.9)},
            {travel: share_over_replicates(each, told_by.sum(), told) for travel, each in shares.items()},
            self.over_from(TRAVELS),
        )

    def over_from(self, travels: tuple[float, ...]) -> dict[float, Probability]:
        """Probability of standing above the bank with the crew of the study so many hours away, first samples."""
        first = self._first(LADDER if self.written.pool is None else LADDER_FILLED)
        own = np.tile(first, len(travels))
        hours = np.repeat(np.array(travels), first.size)
        numbers = self.run.model.numbers(self.rows[own]) | {f"{CREW}.travel_hours": hours}
        flood = flood_of(self.run.model, self.written, numbers, own.size)
        highest = passage(flood, self.place, self.chance, own, crew=True).highest
        depths = (highest - self.bank[own]).reshape(len(travels), -1)
        design = self.sampling.settings.design
        each = (overtopping.plain(self.table(depth), design) for depth in depths)
        return dict(zip(travels, each, strict=True))

    def _first(self, most: int = LADDER) -> NDArray[np.intp]:
        return np.flatnonzero(np.isin(self.chosen, self.sampling.chosen(min(most, self.chosen.size))))

    def stored(self, found: Passage, *, crew: bool) -> Stored | None:
        """None where the study has no pool."""
        pool = self.flood.pool()
        if pool is None:
            return None
        dry = self.passed(crew=crew, pool=False)
        room = pool.volume(self.bank, self.everyone) - pool.volume(found.levels[0], self.everyone)
        share = np.maximum(room, 0.0) / (HOUR * self.flood.median * self.flood.passed()[-1])
        with np.errstate(invalid="ignore"):  # both are endless
            lowered, later = dry.highest - found.highest, found.when - dry.when
        return Stored(
            {each: self.quantile(share, each) for each in (0.1, 0.5, 0.9)},
            self.over(dry.highest),
            self.level(dry.highest),
            self.mean(lowered, PAIRED),
            self.mean(later, PAIRED),
            float(np.mean(found.levels[-1] > self.bank)),
            float(np.max(found.missing[np.isfinite(found.missing)], initial=0.0)),
        )

    def course(self, found: Passage, *, crew: bool) -> Course:
        """Of the first samples, from the beginning until 95 % of the floods are over."""
        own = each = self._first(COURSE)
        if not crew and self.written.pool is None:  # some levels were left out
            numbers = self.run.model.numbers(self.rows[own])
            flood = flood_of(self.run.model, self.written, numbers, own.size)
            found, each = passage(flood, self.place, self.chance, own, crew=False), np.arange(own.size)
        times = found.times[:, each]
        hours = np.linspace(0.0, float(np.quantile(times[-1], 0.95)), MOMENTS)
        tables = []
        for values in (found.flows[:, each], found.blockage[:, each], found.levels[:, each]):
            finite = np.where(np.isfinite(values), values, np.nan)
            at = [between(times, finite, np.minimum(hour, times[-1])) for hour in hours]
            tables.append(np.array([_bands(row[~np.isnan(row)]) for row in at]).T)
        return Course(hours, *tables)

    def by_threshold(self) -> tuple[Probability | None, str | None]:
        """P(over the bank, nobody at work), the start blockage or the flow integrated out, on the first samples."""
        choice = self.run.choice
        integrated = None if choice is None else choice.name
        if integrated is None or integrated not in (self.place.debris, FLOW) or self.written.pool is not None:
            return None, None
        own = self._first()
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

    def __init__(self, floods: Floods, column: int, own: NDArray[np.intp]) -> None:
        self.floods, self.column, self.own = floods, column, own

    def __call__(self, numbers: Array, case: NDArray[np.intp]) -> Array:
        floods, chosen = self.floods, self.own[case]
        rows = floods.rows[chosen]
        rows[:, self.column] = numbers
        flood = flood_of(floods.run.model, floods.written, floods.run.model.numbers(rows), chosen.size)
        alone = passage(flood, floods.place, floods.chance, chosen, crew=False, pool=False, told_above=np.inf)
        return alone.highest - floods.bank[chosen]
