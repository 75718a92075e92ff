"""Floods passed in time: what is told of them, found from the samples of a run."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.analysis import exceedance, overtopping
from overbank.analysis import ladder as rungs
from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.analysis.overtopping import Probability
from overbank.analysis.short_ladder import critical_values
from overbank.sampling.conditional import short_nodes
from overbank.sampling.flood import HOUR, draws, flood_of, place_of
from overbank.sampling.helped import helped, only_over
from overbank.sampling.moments import between, time_over
from overbank.sampling.passage import Passage, passage, volume_over
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.site.numbers import FLOW
from overbank.study.passing import SHAPE

LADDER, LADDER_FILLED = 1024, 256
"""Samples of the threshold method and of the other travel times, without and with a pool, the first ones of every
replicate: a flood in time costs some fifty runs, one that fills a pool some four hundred."""

TOLERANCE = 1e-3
"""On a critical value, as a share of the range of its input."""

MOMENTS, BANDS, COURSE = 73, (0.05, 0.5, 0.95), 1024
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

    def helped(self, alone: Passage) -> Passage:
        """The floods with the crew, from those with nobody at work; without a pool as few levels as there."""
        if self.written.pool is not None:
            return self.passed(crew=True)
        return helped(self.flood, self.place, self.chance, self.everyone, alone, self.bank)

    def over_with_crew(self, alone: Passage) -> Passage:
        """As those with nobody at work, but for floods that go over the bank so: these pass with the crew, if there is
        one."""
        if self.written.crew is None:
            return alone
        return only_over(self.flood, self.place, self.chance, self.everyone, alone, self.bank)

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

    def first(self, most: int = LADDER) -> NDArray[np.intp]:
        """The first samples of every replicate, so many together."""
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
        own = each = self.first(COURSE)
        if self.written.pool is None:  # some levels were left out
            found = passage(self.flood.of(own), self.place, self.chance, own, crew=crew)
            each = np.arange(own.size)
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
        own = self.first()
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
