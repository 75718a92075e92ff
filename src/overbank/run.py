"""From a study to its outcome: the one orchestration."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from overbank.analysis import (
    allowance,
    by_blockage,
    convergence,
    exceedance,
    ladder,
    overtopping,
    polish,
    sensitivity,
)
from overbank.errors import DomainError
from overbank.model import Model
from overbank.outcome import Blockage, Drivers, Headwater, Outcome, Overtopping, Samples
from overbank.site.validity import remarks
from overbank.study.build import Problem, build
from overbank.study.load import Study
from overbank.uncertain.designs import scores
from overbank.uncertain.distributions import Distribution

Array = NDArray[np.float64]
Report = Callable[[str], None]

FALL_TOLERANCE = 1e-4
"""A level may fall by this much along the ladder before the sample counts as not monotone [m]."""

BLOCKAGE_STEPS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0)
"""Shares of the support at which the ladder over a blockage is evaluated: closer where the level rises steeply."""

SCORE_STEPS = np.linspace(-6.0, 6.0, 17)
"""Normal scores at which the ladder over a flow is evaluated; what lies beyond has a probability of 1e-9."""

POLISH_TOLERANCE = 1e-5
"""Accuracy of a critical value, as a share of the ladder's range."""

QUANTILES = (0.5, 0.8, 0.9, 0.95, 0.99)
OUTERMOST = 5e-4
"""Share of the levels beyond either end of the even steps of the exceedance curve."""

EVEN_LEVELS, CROWDED_LEVELS = 121, 101
FLOW = "flow.design_m3_s"
MOST_CROSSED = 2**15
"""Rows of crossed samples for the indices; more would only cost time."""


def _silent(_words: str) -> None:
    """Report to nobody."""


def run(study: Study, report: Report = _silent) -> Outcome:
    """Run a study in full.

    Parameters
    ----------
    study : from `read_study`
    report : called with a few words whenever a new stage begins

    Returns
    -------
    Outcome, with every figure, its interval and its method.

    Raises
    ------
    DomainError : nothing in the study is uncertain, or no sample gave a level
    """
    return _Run(study, report).outcome()


@dataclass
class _Run:
    """The stages of one run; each keeps what later ones need."""

    study: Study
    report: Report
    seconds: dict[str, float] = field(default_factory=dict)
    runs: int = 0

    def __post_init__(self) -> None:
        self.problem = build(self.study)
        self.inputs = self.problem.inputs
        self.settings = self.study.content.run
        self.model = Model(self.problem)
        if self.inputs.dimension == 0:
            raise DomainError(
                f"{self.study.path}: expected at least one uncertain number; got certain ones only. Give a number a "
                "distribution, or use `overbank check`, which runs the site once"
            )

    def _stage(self, words: str) -> None:
        self._end_stage()
        self.seconds[words] = time.perf_counter()
        self.report(words)

    def _end_stage(self) -> None:
        """Turn the moment at which the last stage began into the seconds that it took."""
        for last in list(self.seconds)[-1:]:
            self.seconds[last] = time.perf_counter() - self.seconds[last]

    def outcome(self) -> Outcome:
        self._stage("sampling the site")
        self._sample()
        self._stage("climbing the ladder")
        self._climb()
        self._stage("reading the curves")
        headwater, over = self._headwater(), self._overtopping()
        blocked = self._blockage(headwater)
        self._stage("ranking the drivers")
        drivers = self._drivers()
        numbers = self.model.numbers(self.rows)
        verdicts = self._verdicts(over, blocked)
        self._end_stage()
        return Outcome(
            study=self.study,
            problem=self.problem,
            place=self.model.place,
            deterministic=self.model.march(self.model.medians()),
            samples=self.samples,
            overtopping=over,
            headwater=headwater,
            blockage=blocked,
            drivers=drivers,
            remarks=remarks(self.problem.site, self.samples.site, numbers),
            verdicts=verdicts,
            runs=self.runs,
            seconds=self.seconds,
        )

    # --- sampling -----------------------------------------------------------------------------------

    def _sample(self) -> None:
        settings = self.settings
        self.z, values = self.inputs.sample(settings.design, settings.samples, settings.seed, settings.replicates)
        self.shape = values.shape[:2]
        self.rows = values.reshape(-1, self.inputs.dimension)
        site = self.model.march(self.rows)
        self.runs += len(self.rows)
        levels = site.element(self.model.place).level.reshape(self.shape)
        self.banks = self.model.banks(self.rows).reshape(self.shape)
        self.samples = Samples(values, site, levels, levels - self.banks)

    # --- the ladder ---------------------------------------------------------------------------------

    def _climb(self) -> None:
        """Evaluate the ladder over the stair input and find each sample's critical value."""
        self.stair = stair_input(self.problem, self.model.place)
        if self.stair is None:
            return
        column = self.inputs.index(self.stair)
        self.distribution = self.inputs.items[column].distribution
        nodes = ladder_nodes(self.stair, self.distribution)
        levels = np.array([self._levels_with(column, np.full(len(self.rows), node)) for node in nodes])
        levels = levels.reshape(nodes.size, *self.shape)
        self.ladder = ladder.Ladder(nodes, levels, levels - self.banks)
        crossing = ladder.critical(nodes, self.ladder.margins)
        trusted = self.ladder.trusted(FALL_TOLERANCE)
        polished = polish.polish(
            self._margin_at(column), crossing, POLISH_TOLERANCE * float(np.ptp(nodes)), where=trusted
        )
        self.critical = np.where(trusted, polished.value, np.nan)
        self.trusted = trusted
        rest = np.delete(self.z, column, axis=2)
        conditional = self.inputs.copula.conditional(column)
        self.mean, self.spread = rest @ conditional.weights, conditional.spread
        tails = ladder.tail_probability(polished.value, self.distribution.score_below, self.mean, self.spread)
        self.mended = ladder.mend(tails, trusted, self.samples.margins)

    def _levels_with(self, column: int, numbers: Array, chosen: NDArray[np.intp] | None = None) -> Array:
        """Levels with one input set, for all samples or for those chosen."""
        rows = self.rows.copy() if chosen is None else self.rows[chosen]
        rows[:, column] = numbers
        self.runs += len(rows)
        return self.model.levels(rows)

    def _margin_at(self, column: int) -> polish.MarginAt:
        banks = self.banks.ravel()

        def margin(numbers: Array, chosen: NDArray[np.intp]) -> Array:
            return self._levels_with(column, numbers, chosen) - banks[chosen]

        return margin

    # --- answers ------------------------------------------------------------------------------------

    def _overtopping(self) -> Overtopping:
        plain = overtopping.plain(self.samples.margins, self.settings.design)
        if self.stair is None:
            return Overtopping(None, plain, True, None, 0)
        threshold = overtopping.threshold(self.mended.probabilities)
        return Overtopping(threshold, plain, overtopping.agree(threshold, plain), self.stair, self.mended.replaced)

    def _headwater(self) -> Headwater:
        grid = level_grid(self.samples.levels, self.banks, self.study.content.decision.assurance)
        plain = exceedance.plain(self.samples.levels, grid)
        if self.stair is None:
            curve = plain
        else:
            curve = exceedance.conditional(
                self.ladder.nodes,
                self.ladder.levels,
                grid,
                score_below=self.distribution.score_below,
                conditional_mean=self.mean,
                conditional_spread=self.spread,
                own_levels=self.samples.levels,
                tolerance=FALL_TOLERANCE,
            )
        wanted = sorted({*QUANTILES, self.study.content.decision.assurance})
        return Headwater(curve, plain, {q: exceedance.quantile(curve, 1.0 - q) for q in wanted})

    def _blockage(self, headwater: Headwater) -> Blockage | None:
        if self.stair is None or not is_blockage(self.stair):
            return None
        low, high = self.distribution.support
        grid = np.unique(np.concatenate([np.linspace(low, high, 101), [value for value, _ in self.distribution.atoms]]))
        given = None
        if np.ptp(self.mean) > 0.0:
            given = by_blockage.given(
                self.critical,
                grid,
                score_at=self.distribution.score(grid),
                score_below=self.distribution.score_below(grid),
                conditional_mean=self.mean,
                spread=self.spread,
            )
        decision = self.study.content.decision
        stair = self.stair
        return Blockage(
            name=stair,
            fixed=by_blockage.curve(self.critical, grid),
            given=given,
            largest=by_blockage.largest_allowed(self.critical, decision.target_probability, low, high),
            allowance=allowance.equivalent(
                lambda blockage: self.model.level_with(stair, blockage),
                headwater.quantiles[decision.assurance],
                low,
                high,
            ),
        )

    # --- drivers ------------------------------------------------------------------------------------

    def _drivers(self) -> Drivers:
        d, settings = self.inputs.dimension, self.settings
        count = crossed_samples(settings.samples, settings.replicates)
        both = scores(settings.design, count, 2 * d, settings.seed + 1, settings.replicates)
        levels, margins = [], []
        for block in sensitivity.blocks(both[..., :d], both[..., d:]):
            rows = self.inputs.values(block).reshape(-1, d)
            level = self.model.levels(rows)
            levels.append(level)
            margins.append(level - self.model.banks(rows))
            self.runs += len(rows)
        shape = (d + 2, settings.replicates, count // settings.replicates)
        level_table = np.moveaxis(np.array(levels).reshape(shape), 0, 1)
        margin_table = np.moveaxis(np.array(margins).reshape(shape), 0, 1)
        return drivers_of(level_table, margin_table, self.inputs.names, bool(self.problem.dependences))

    def _verdicts(self, over: Overtopping, blocked: Blockage | None) -> dict[str, convergence.Verdict]:
        """Half of the samples against all of them, for the headline figures."""
        assurance, design = self.study.content.decision.assurance, self.settings.design
        target = self.study.content.decision.target_probability
        verdicts = {
            f"level not exceeded with probability {assurance:g}": convergence.verdict(
                self.samples.levels,
                lambda t: exceedance.plain_quantile(t, 1.0 - assurance, design),
                0.02,
                "m",
            )
        }
        if over.threshold is not None:
            wanted = max(0.1 * over.threshold.value, 0.002)
            verdicts["probability of overtopping"] = convergence.verdict(
                self.mended.probabilities, overtopping.threshold, wanted
            )
        else:
            verdicts["probability of overtopping"] = convergence.verdict(
                self.samples.margins,
                lambda t: overtopping.plain(t, design),
                max(0.1 * over.plain.value, 0.005),
            )
        if blocked is not None:
            low, high = self.distribution.support
            verdicts["largest blockage within the target"] = convergence.verdict(
                self.critical, lambda t: by_blockage.largest_allowed(t, target, low, high), 0.02
            )
        return verdicts


def is_blockage(name: str) -> bool:
    """Whether an input's dotted path is a blockage."""
    return name.rsplit(".", 1)[-1] == "blockage"


def crossed_samples(samples: int, replicates: int) -> int:
    """How many samples are crossed for the indices: all, or as many halves of them as bring them under the limit."""
    each = samples // replicates
    while each * replicates > MOST_CROSSED and each > 1:
        each //= 2
    return each * replicates


def stair_input(problem: Problem, place: str) -> str | None:
    """The input that the threshold method integrates out.

    The blockage at the place, else the nearest below it, else the flow. A blockage above the place does nothing to
    the level there.
    """
    names = problem.inputs.names
    going_upstream = [element.id for element in problem.site.elements]
    nearest_first = going_upstream[going_upstream.index(place) :: -1]
    candidates = [f"{element}.{table}blockage" for element in nearest_first for table in ("", "screen.")]
    return next((name for name in [*candidates, FLOW] if name in names), None)


def ladder_nodes(name: str, distribution: Distribution) -> Array:
    """Values of the stair input at which the whole table of samples is run."""
    if is_blockage(name):
        low, high = distribution.support
        nodes = low + (high - low) * np.array(BLOCKAGE_STEPS)
    else:
        nodes = distribution.value(SCORE_STEPS)
    atoms = [value for value, _ in distribution.atoms if len(distribution.atoms) <= 20]
    return np.unique(np.concatenate([nodes, atoms]))


def level_grid(levels: Array, banks: Array, assurance: float) -> Array:
    """Levels at which the exceedance is computed, the median bank among them [m].

    Even steps over all but the outermost 0.05 % of the sampled levels, so that a few levels far out do not
    stretch them, and quantiles of their own where the levels thin out; far enough to reach the bank and the
    quantile of the assurance asked for.
    """
    finite = levels[np.isfinite(levels)]
    if finite.size == 0:
        raise DomainError("no sample gave a level: run `overbank check` and look at the deterministic run first")
    bank = float(np.median(banks))
    reach = min(max(0.9995, 1.0 - 0.5 * (1.0 - assurance)), 1.0)
    low, high = (float(level) for level in np.quantile(finite, (0.0005, reach)))
    margin = 0.02 * max(high - low, 0.01)
    even = np.linspace(low - margin, high + margin, 160)
    own = np.quantile(finite, np.linspace(0.005, 0.995, 100))
    return np.unique(np.concatenate([even, own, [bank, max(bank, high) + margin]]))


def drivers_of(levels: Array, margins: Array, names: tuple[str, ...], dependent: bool) -> Drivers:
    """Sobol' indices of level and of overtopping from the crossed runs, shape (R, d + 2, n)."""
    notes = []
    if dependent:
        notes.append(
            "The indices take all inputs as independent: the dependence stated in the study is left out here, "
            "and only here, because shares of variance do not add up for inputs that depend on each other."
        )
    endless = np.isposinf(levels)
    if np.any(endless):
        highest = float(levels[np.isfinite(levels)].max())
        levels = np.where(endless, highest, levels)
        notes.append(
            f"In {np.mean(endless):.2%} of these runs there was no way through; for the indices their level is "
            f"taken as the highest finite one, {highest:.2f} m."
        )
    found: list[sensitivity.Indices | None] = []
    over = np.where(np.isnan(margins), np.nan, (margins > 0.0).astype(np.float64))
    for what, table in (("level", levels), ("event of overtopping", over)):
        try:
            found.append(sensitivity.indices(table, names))
        except DomainError as error:
            found.append(None)
            notes.append(f"No indices of the {what}: {error}")
    return Drivers(found[0], found[1], tuple(notes))
