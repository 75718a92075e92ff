"""Which survey would be worth its cost: what each on offer would narrow, and what knowing more is worth in money."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from overbank.analysis import information, overtopping, survey
from overbank.findings.knowing import Surveys, WorthOfKnowing
from overbank.stages.answering import Answers
from overbank.stages.attempts import Attempts
from overbank.stages.conditional import Conditional
from overbank.stages.sampling import Array
from overbank.uncertain.inputs import Input, Survey

SAMPLES, LEAST = 256, 32
"""Samples of each replicate, the first ones, for one survey; never fewer than so many."""

SHARE, LADDER = 16, 8
"""One sample in so many gets a short ladder for its probability of overtopping, which takes about so many runs."""

MOST_RUNS = 2**19
"""Runs for all surveys together; more would only cost time."""


def surveys(answers: Answers) -> Surveys | None:
    """None where the study offers no survey and says nothing of money."""
    surveying = _Surveying(answers)
    if not surveying.offered and answers.sampling.decision.loss_if_overtopped is None:
        return None
    found = [surveying.narrowing(item, item.survey) for item in surveying.offered if item.survey is not None]
    ranked = survey.ranked([each for each in found if each is not None])
    return Surveys(ranked, surveying.worth(), tuple(surveying.notes))


class _Surveying(Attempts):
    """The parts, each of which may be refused and then leaves a note."""

    def __init__(self, answers: Answers) -> None:
        super().__init__()
        self.answers, self.sampling = answers, answers.sampling
        self.inputs, self.model = self.sampling.inputs, self.sampling.model
        self.offered = [item for item in self.inputs.items if item.survey is not None]
        self.stair = None if answers.climb is None else answers.climb.name

    # --- what a survey narrows --------------------------------------------------------------------------

    def narrowing(self, item: Input, offer: Survey) -> survey.Narrowing | None:
        """Of the level from many samples; of the probability from a few with ladders, which tell far more each."""
        column, z = self.inputs.index(item.name), self.sampling.z
        correlation = self.inputs.copula.correlation
        count = self._samples()

        def found(samples: int, left: float, evaluate: survey.Evaluate) -> survey.Narrowing:
            return survey.narrowing(item.name, z[:, :samples], column, correlation, left, offer.cost, evaluate)

        def both() -> survey.Narrowing:
            left = survey.share_left(item.distribution.value, offer.sd_after)
            whole = found(count, left, self._counted)
            if self.stair in (None, item.name):
                return whole
            conditional = Conditional(self.model, str(self.stair))
            few = found(max(count // SHARE, 4), left, lambda z: (np.zeros(len(z)), conditional.probabilities(z)))
            self.sampling.runs += conditional.runs
            return replace(
                whole,
                probability_spread=few.probability_spread,
                runs=whole.runs + conditional.runs,
                failed=whole.failed + few.failed,
            )

        return self.attempt(f"figures for the survey of {item.name}", both)

    def _samples(self) -> int:
        """Samples of each replicate, as many as bring all surveys together under the limit."""
        replicates, each = self.sampling.shape
        tables = (survey.KNOWN.size + 1) * len(self.offered)
        count = min(SAMPLES, each)
        while count > LEAST and tables * replicates * count * (1.0 + LADDER / SHARE) > MOST_RUNS:
            count //= 2
        return count

    def _counted(self, z: Array) -> tuple[Array, Array]:
        """Level, and 1 where it goes over the bank, else 0."""
        rows = self.inputs.values(z)
        levels, banks = self.model.levels(rows), self.model.banks(rows)
        self.sampling.runs += len(rows)
        return self.capped(levels, self.sampling.samples.levels), overtopping.events(levels - banks)

    # --- what knowing is worth --------------------------------------------------------------------------

    def worth(self) -> WorthOfKnowing | None:
        """In money; None where the study says nothing of it."""
        decision = self.sampling.decision
        loss, cost = decision.loss_if_overtopped, decision.cost_of_acting
        if loss is None or cost is None:
            return None
        if self.answers.overtopping.beyond is not None:
            self.notes.append(
                "Overtopping is too rare for the samples that the worth of information is found from; take more "
                "samples before relying on it."
            )
        return self.attempt("worth of information", lambda: self._worth(loss, cost))

    def _worth(self, loss: float, cost: float) -> WorthOfKnowing:
        held = self.sampling.held
        smooth = information.gain(held(self.answers.probabilities), loss, cost)
        counted = information.gain(overtopping.events(held(self.sampling.samples.margins)), loss, cost)
        today = information.choice(smooth)
        generator = np.random.default_rng([self.sampling.settings.seed, 4])
        chance = information.by_chance(smooth, generator)
        chance_counted = information.by_chance(counted, generator) if self.stair is not None else chance

        def known(name: str, values: Array) -> information.Worth:
            gains, by_chance = (counted, chance_counted) if name == self.stair else (smooth, chance)
            return information.worth(name, values, gains, by_chance)

        def told(item: Input, offer: Survey) -> information.Worth:
            left = survey.share_left(item.distribution.value, offer.sd_after)
            scores = self.sampling.z[..., self.inputs.index(item.name)]
            return known(item.name, survey.result(scores, left, generator))

        results = [told(item, item.survey) for item in self.offered if item.survey is not None]
        exact = [known(name, self.sampling.samples.values[..., j]) for j, name in enumerate(self.inputs.names)]
        return WorthOfKnowing(
            loss,
            cost,
            replace(information.choice(counted), gain=today.gain, better=today.better),
            _ranked(results),
            _ranked(exact),
        )


def _ranked(found: list[information.Worth]) -> tuple[information.Worth, ...]:
    """The one most worth knowing first."""
    return tuple(sorted(found, key=lambda each: -each.worth.value))
