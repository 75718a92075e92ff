"""What the floods that were seen teach: the samples re-weighted, prior beside posterior."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from overbank.analysis import learning, overtopping
from overbank.analysis.intervals import Estimate
from overbank.errors import DomainError
from overbank.outputs.in_tables import figure
from overbank.outputs.output import Output, Tables
from overbank.sampling.run import Run
from overbank.sampling.samples import Array, Sampling
from overbank.site.numbers import FLOW
from overbank.site.tailwater import FixedLevel
from overbank.study.records.observations import Observation, observation_name
from overbank.uncertain.designs import scores

MOST_RUNS = 2**18
"""Runs for all floods seen together; more would only cost time."""

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
    """

    weights: Array
    effective: float
    chances: tuple[float, ...]
    failed: int
    inputs: pd.DataFrame
    level: BeforeAndAfter
    probability: BeforeAndAfter


@dataclass(frozen=True)
class LearntFromFloods:
    """What the floods that were seen teach.

    taught : None where it was refused, and `refusal` says why
    anew : inputs that come out anew in each flood, about which nothing is learnt
    notes : what a reader must know
    """

    seen: tuple[SeenFlood, ...]
    taught: Taught | None
    refusal: str
    anew: tuple[str, ...]
    notes: tuple[str, ...]


def _find(run: Run) -> LearntFromFloods | None:
    """None where no flood was seen. A refusal stands in the result; the run goes on."""
    seen = run.study.content.observation
    if not seen:
        return None
    sampling = run.sampling
    anew = anew_in_each_flood(sampling)
    draws = _draws(sampling, bool(anew))
    predicted = np.array([_predicted(sampling, each, index, anew, draws) for index, each in enumerate(seen)])
    floods = tuple(_seen(sampling, *each) for each in zip(range(len(seen)), seen, predicted, strict=True))
    taught, refusal = None, ""
    try:
        taught = _taught(run, floods, predicted, anew)
    except DomainError as error:
        refusal = str(error)
    fixed = isinstance(sampling.problem.site.tailwater, FixedLevel)
    return LearntFromFloods(floods, taught, refusal, anew, (TAILWATER_AS_IN_DESIGN_FLOOD,) if fixed else ())


def anew_in_each_flood(sampling: Sampling) -> tuple[str, ...]:
    """Inputs that come out anew in each flood; the design flow is not one of the floods seen."""
    kinds = {item.name: item.kind for item in sampling.problem.assumptions}
    return tuple(name for name in sampling.inputs.names if kinds[name] == "each flood" and name != FLOW)


def _draws(sampling: Sampling, anew: bool) -> int:
    """Draws for each sample of what is not the same in all floods; one where there is nothing of the kind."""
    seen = sampling.study.content.observation
    if not anew and not any(each.flow_m3_s.uncertain for each in seen):
        return 1
    return max(1, min(DRAWS, MOST_RUNS // (len(seen) * len(sampling.rows))))


def _predicted(sampling: Sampling, seen: Observation, index: int, anew: tuple[str, ...], draws: int) -> Array:
    """Levels in the flood that was seen, with every sample of what is the same in all floods [m]; shape (R, N, M).

    What comes out anew in each flood is that of other samples of the replicate, M draws of it, so that nothing is
    learnt about it.
    """
    values, place = sampling.samples.values.copy(), (_place(sampling, seen),)
    generator = np.random.default_rng([sampling.settings.seed, 3, index])
    columns = [sampling.inputs.index(name) for name in anew]
    found = []
    for _ in range(draws):
        for own in values:
            own[:, columns] = own[generator.permutation(len(own))][:, columns]
        numbers = dict(sampling.model.numbers(values.reshape(len(sampling.rows), -1)))
        numbers[FLOW] = _flows(sampling, seen, int(generator.integers(2**62)))
        found.append(sampling.model.levels_of(numbers, len(sampling.rows), place)[0].reshape(sampling.shape))
    return np.stack(found, axis=-1)


def _flows(sampling: Sampling, seen: Observation, seed: int) -> Array | float:
    """Flow of that flood, drawn from its own distribution where it is uncertain [m3/s]."""
    flow = seen.flow_m3_s
    if flow.distribution is None:
        return flow.median
    z = scores("latin_hypercube", len(sampling.rows), 1, seed, sampling.shape[0])
    return flow.distribution.value(z.ravel())


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
    return Taught(
        weights=after,
        effective=learnt.effective,
        chances=learnt.chances,
        failed=learnt.failed,
        inputs=learning.side_by_side(sampling.samples.values, sampling.inputs.names, after),
        level=BeforeAndAfter(*(learning.quantile(levels, weights, share) for weights in (before, after))),
        probability=BeforeAndAfter(*(learning.mean(over, weights) for weights in (before, after))),
    )


def _over(run: Run, anew: tuple[str, ...]) -> Array:
    """Whether, or how likely, each sample goes over the bank, so that its weight is right for it; shape (R, N).

    A conditional probability holds for all values of the input integrated out, the weight only for the sample's own.
    So it serves where the weights do not depend on that input, else the plain 0 or 1.
    """
    ladder, sampling = run.ladder, run.sampling
    if ladder is None or ladder.name in (*anew, FLOW):
        return sampling.held(run.over.probabilities)
    return overtopping.events(sampling.held(sampling.samples.margins))


def _summary(found: LearntFromFloods) -> dict[str, Any]:
    said: dict[str, Any] = {"anew_in_each_flood": list(found.anew), "notes": list(found.notes)}
    if found.refusal:
        said["refused"] = found.refusal
    if found.taught is not None:
        taught = found.taught
        said["effective_samples"] = round(taught.effective, 1)
        said["level_with_the_assurance_m"] = _both(taught.level)
        said["probability_of_overtopping"] = _both(taught.probability)
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
