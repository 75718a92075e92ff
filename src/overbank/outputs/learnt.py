"""What the floods that were seen teach: the samples re-weighted, prior beside posterior."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from overbank.analysis import allowance, annual, by_blockage, inner, learning, overtopping
from overbank.analysis.intervals import Estimate
from overbank.errors import DomainError
from overbank.outputs.annual import YEARS, in_flood
from overbank.outputs.in_tables import figure
from overbank.outputs.output import Output, Tables
from overbank.sampling.nested import nested_floods
from overbank.sampling.run import Run
from overbank.sampling.samples import Array, Sampling
from overbank.sampling.seen_floods import AnyFlood, levels_of_samples, levels_of_states
from overbank.site.numbers import FLOW
from overbank.site.tailwater import FixedLevel
from overbank.study.records.observations import Observation, observation_name

MOST_RUNS = 2**18
"""Runs for all floods seen together; more would only cost time."""

NAMED = (0.1, 0.02, 0.01, 0.005, 0.002)
"""Annual probabilities of the floods whose assurance is told."""

DRAWS = 16
"""Most draws of what comes out anew in each flood, and of the flow that was seen, for each sample."""

TAILWATER_AS_IN_DESIGN_FLOOD = (
    "The study gives the level below the site as a number, whatever the flow. So it is taken to have stood in the "
    "floods seen as high as in the design flood. Give a rating or a normal depth if it did not."
)


@dataclass(frozen=True)
class SeenFlood:
    """A flood that was seen.

    name, place : of the observation, and the element upstream of which the level was seen
    flow : in words; level, sd : seen, and the standard deviation of its error [m]
    foretold : share -> its quantile of the levels that the study foretells for that flood [m]
    """

    name: str
    place: str
    flow: str
    level: float
    sd: float
    foretold: dict[float, float]


@dataclass(frozen=True)
class BeforeAndAfter:
    """A figure before and after the floods that were seen, both from the same weighted samples."""

    prior: Estimate
    posterior: Estimate


@dataclass(frozen=True)
class Taught:
    """What the floods seen make of the samples.

    weights : of each sample, shape (R, N), sum 1; effective : samples of equal weight that would tell as much
    chances : of each observation: probability, before it was made, of one at least as far out
    failed : samples without a level for some observation
    inputs : a row an input, prior beside posterior
    level : not exceeded with the assurance asked for in the design flood [m]
    probability : of overtopping in the design flood
    allowance, largest : blockage for that level, and the largest within the target; None without an uncertain blockage
    year, life : of overtopping in a year, and at least once in the years asked for; None where nothing is asked of them
    over, assurance : of at least one overtopping in so many years, and of none in the flood of an annual probability
    """

    weights: Array
    effective: float
    chances: tuple[float, ...]
    failed: int
    inputs: pd.DataFrame
    level: BeforeAndAfter
    probability: BeforeAndAfter
    allowance: BeforeAndAfter | None = None
    largest: BeforeAndAfter | None = None
    year: BeforeAndAfter | None = None
    life: BeforeAndAfter | None = None
    over: dict[int, BeforeAndAfter] = field(default_factory=dict)
    assurance: dict[float, BeforeAndAfter] = field(default_factory=dict)

    @property
    def figures(self) -> dict[str, tuple[BeforeAndAfter, str]]:
        """Every figure before and after by its name, with its unit as in `words.rounded`."""
        named = {
            "probability_of_overtopping": (self.probability, "p"),
            "level_with_the_assurance_m": (self.level, "m"),
            "allowance_for_assurance": (self.allowance, "%"),
            "largest_blockage_within_target": (self.largest, "%"),
            "overtopping_in_a_year": (self.year, "p"),
            "overtopping_over_the_life": (self.life, "p"),
        }
        return {name: (each, unit) for name, (each, unit) in named.items() if each is not None}


@dataclass(frozen=True)
class LearntFromFloods:
    """What the floods that were seen teach.

    taught : None where it was refused, and `refusal` says why
    anew : inputs that come out anew in each flood, about which nothing is learnt
    told : others of that kind, which go with what is learnt, so that it tells of them
    notes : what a reader must know
    """

    seen: tuple[SeenFlood, ...]
    taught: Taught | None
    refusal: str
    anew: tuple[str, ...]
    told: tuple[str, ...]
    notes: tuple[str, ...]


def _find(run: Run) -> LearntFromFloods | None:
    """None where no flood was seen. A refusal stands in the result; the run goes on."""
    seen = run.study.content.observation
    if not seen:
        return None
    sampling, law = run.sampling, AnyFlood.of(run.model.problem)
    draws = _draws(sampling, bool(law.anew))
    floods: tuple[SeenFlood, ...] = ()
    taught, refusal = None, ""
    notes = [TAILWATER_AS_IN_DESIGN_FLOOD] if isinstance(sampling.problem.site.tailwater, FixedLevel) else []
    try:
        predicted = np.array([levels_of_samples(sampling, each, index, draws) for index, each in enumerate(seen)])
        floods = tuple(_seen(sampling, *each) for each in zip(range(len(seen)), seen, predicted, strict=True))
        taught = _of_a_year(run, _taught(run, floods, predicted, law.anew), notes)
    except DomainError as error:
        refusal = str(error)
    anew = tuple(name for name in law.anew if name not in law.told)
    return LearntFromFloods(floods, taught, refusal, anew, law.told, tuple(notes))


def _draws(sampling: Sampling, anew: bool) -> int:
    """Draws for each sample of what is not the same in all floods; one where there is nothing of the kind."""
    seen = sampling.study.content.observation
    if not anew and not any(each.flow_m3_s.uncertain for each in seen):
        return 1
    return max(1, min(DRAWS, MOST_RUNS // (len(seen) * len(sampling.rows))))


def _place(sampling: Sampling, seen: Observation) -> str:
    return seen.at or sampling.model.place


def _seen(sampling: Sampling, index: int, seen: Observation, predicted: Array) -> SeenFlood:
    name = observation_name(index)
    flow = next(item.words for item in sampling.problem.assumptions if item.name == f"{name}.flow_m3_s")
    known = predicted[~np.isnan(predicted)]
    found = np.quantile(known, learning.SHARES, method="inverted_cdf") if known.size else np.full(3, np.nan)
    foretold = {share: float(level) for share, level in zip(learning.SHARES, found, strict=True)}
    return SeenFlood(name, _place(sampling, seen), flow, seen.level_m, seen.sd_m, foretold)


def _taught(run: Run, floods: tuple[SeenFlood, ...], predicted: Array, anew: tuple[str, ...]) -> Taught:
    sampling = run.sampling
    seen, errors = np.array([flood.level for flood in floods]), np.array([flood.sd for flood in floods])
    learnt = learning.weights(predicted, seen, errors, [flood.name for flood in floods])
    before, after = np.full(learnt.weights.shape, 1.0 / learnt.weights.size), learnt.weights
    levels, share, over = sampling.held(sampling.samples.levels), sampling.decision.assurance, _over(run, anew)
    level = BeforeAndAfter(*(learning.quantile(levels, weights, share) for weights in (before, after)))
    allowed, largest = _of_blockage(run, level, (before, after))
    return Taught(
        weights=after,
        effective=learnt.effective,
        chances=learnt.chances,
        failed=learnt.failed,
        inputs=learning.side_by_side(sampling.samples.values, sampling.inputs.names, after),
        level=level,
        probability=BeforeAndAfter(*(learning.mean(over, weights) for weights in (before, after))),
        allowance=allowed,
        largest=largest,
    )


def _of_blockage(
    run: Run, level: BeforeAndAfter, both: tuple[Array, Array]
) -> tuple[BeforeAndAfter, BeforeAndAfter] | tuple[None, None]:
    """The allowance for the level, and the largest blockage within the target, by the weights before and after."""
    debris, sampling = run.debris, run.sampling
    if debris is None:
        return None, None
    critical, target = sampling.held(debris.critical[sampling.at]), sampling.decision.target_probability
    allowed = (
        allowance.needed(lambda share: run.model.level_with(debris.name, share), each)
        for each in (level.prior, level.posterior)
    )
    largest = (by_blockage.largest_within(critical, target, weights) for weights in both)
    return BeforeAndAfter(*allowed), BeforeAndAfter(*largest)


def _of_a_year(run: Run, taught: Taught, notes: list[str]) -> Taught:
    """With the floods of a year: each state of knowledge weighs by how well it would have foretold the floods seen."""
    given, seen = run.model.problem.annual, run.study.content.observation
    if given is None:
        return taught
    nested = nested_floods(run.sampling, given)
    predicted = np.array([levels_of_states(nested, each, index) for index, each in enumerate(seen)])
    levels, errors = np.array([each.level_m for each in seen]), np.array([each.sd_m for each in seen])
    names = [observation_name(index) for index in range(len(seen))]
    try:
        after = learning.weights(predicted, levels, errors, names, nested.weights).weights
    except DomainError as error:
        notes.append(f"Nothing is learnt of the floods of a year: {error}")
        return taught
    flows = nested.ladder(nested.z)
    above = nested.above(flows, flows.capacity)
    states, variance = inner.told(above, nested.weights, nested.shifts)
    both, years = (np.full(after.shape, 1.0 / after.size), after), given.life_years

    def said(values: Array) -> BeforeAndAfter:
        return BeforeAndAfter(*(learning.mean(values, weights) for weights in both))

    below = {p: annual.stays_below(in_flood(nested, p)[1], nested.weights) for p in NAMED}
    return replace(
        taught,
        year=said(states),
        life=None if years is None else said(annual.over_years_by_state(states, years, variance)),
        over={many: said(annual.over_years_by_state(states, many, variance)) for many in YEARS},
        assurance={probability: said(values) for probability, values in below.items()},
    )


def _over(run: Run, anew: tuple[str, ...]) -> Array:
    """Whether, or how likely, each sample goes over the bank, so that its weight is right for it; shape (R, N).

    A conditional probability holds for all values of the input integrated out, the weight only for the sample's own.
    So it serves where the weights do not depend on that input, else the plain 0 or 1.
    """
    ladder, sampling = run.ladder, run.sampling
    if ladder is None or ladder.name in (*anew, FLOW):
        return sampling.held(run.over.probabilities)
    return overtopping.events(sampling.held(sampling.samples.depth_over_bank))


def _summary(found: LearntFromFloods) -> dict[str, Any]:
    anew = [*found.anew, *found.told]
    said: dict[str, Any] = {"anew_in_each_flood": anew, "notes": list(found.notes)}
    if found.refusal:
        said["refused"] = found.refusal
    if found.taught is not None:
        taught = found.taught
        said["effective_samples"] = round(taught.effective, 1)
        said |= {name: _both(each) for name, (each, _) in taught.figures.items()}
    return {"floods_seen": said}


def _both(found: BeforeAndAfter) -> dict[str, Any]:
    return {"prior": figure(found.prior), "posterior": figure(found.posterior)}


def _tables(found: LearntFromFloods) -> Tables:
    return {"floods_seen": _seen_table(found), "learnt": None if found.taught is None else found.taught.inputs}


def _seen_table(found: LearntFromFloods) -> pd.DataFrame:
    """A row an observation: what was seen, what was foretold, and how likely one as far out was."""
    chances = [float("nan")] * len(found.seen) if found.taught is None else list(found.taught.chances)
    return pd.DataFrame(
        {
            **{"observation": seen.name, "at": seen.place, "flow_m3_s": seen.flow, "level_m": seen.level},
            "sd_m": seen.sd,
            **{f"foretold_{100 * share:g}_m": level for share, level in seen.foretold.items()},
            "chance": chance,
        }
        for seen, chance in zip(found.seen, chances, strict=True)
    )


OUTPUT = Output(find=_find, tables=_tables, summary=_summary)
