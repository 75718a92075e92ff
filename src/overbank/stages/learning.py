"""What the floods that were seen teach: the samples re-weighted, prior beside posterior."""

from __future__ import annotations

import numpy as np

from overbank.analysis import learning, overtopping
from overbank.errors import DomainError
from overbank.findings.knowing import BeforeAndAfter, LearntFromFloods, SeenFlood, Taught
from overbank.site.numbers import FLOW
from overbank.site.tailwater import FixedLevel
from overbank.stages.answering import Answers
from overbank.stages.sampling import Array, Sampling
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


def learn(answers: Answers) -> LearntFromFloods | None:
    """None where no flood was seen. A refusal stands in the result; the run goes on."""
    sampling = answers.sampling
    seen = sampling.study.content.observation
    if not seen:
        return None
    anew = anew_in_each_flood(sampling)
    draws = _draws(sampling, bool(anew))
    predicted = np.array([_predicted(sampling, each, index, anew, draws) for index, each in enumerate(seen)])
    floods = tuple(_seen(sampling, *each) for each in zip(range(len(seen)), seen, predicted, strict=True))
    taught, refusal = None, ""
    try:
        taught = _taught(answers, floods, predicted, anew)
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
        found.append(sampling.problem.site.levels(numbers, len(sampling.rows), place)[0].reshape(sampling.shape))
    sampling.runs += draws * len(sampling.rows)
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


def _taught(answers: Answers, floods: tuple[SeenFlood, ...], predicted: Array, anew: tuple[str, ...]) -> Taught:
    sampling = answers.sampling
    seen, errors = np.array([flood.level for flood in floods]), np.array([flood.sd for flood in floods])
    learnt = learning.weights(predicted, seen, errors, [flood.name for flood in floods])
    before, after = np.full(learnt.weights.shape, 1.0 / learnt.weights.size), learnt.weights
    levels, share, over = sampling.held(sampling.samples.levels), sampling.decision.assurance, _over(answers, anew)
    return Taught(
        weights=after,
        effective=learnt.effective,
        chances=learnt.chances,
        failed=learnt.failed,
        inputs=learning.side_by_side(sampling.samples.values, sampling.inputs.names, after),
        level=BeforeAndAfter(*(learning.quantile(levels, weights, share) for weights in (before, after))),
        probability=BeforeAndAfter(*(learning.mean(over, weights) for weights in (before, after))),
    )


def _over(answers: Answers, anew: tuple[str, ...]) -> Array:
    """Whether, or how likely, each sample goes over the bank, so that its weight is right for it; shape (R, N).

    A conditional probability holds for all values of the input integrated out, the weight only for the sample's own.
    So it serves where the weights do not depend on that input, else the plain 0 or 1.
    """
    climb = answers.climb
    if climb is None or climb.name in (*anew, FLOW):
        return answers.sampling.held(answers.probabilities)
    return overtopping.events(answers.sampling.held(answers.sampling.samples.margins))
