"""Which survey would be worth its cost: what each on offer would narrow, and what knowing more is worth in money."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from overbank.analysis import information, overtopping, survey
from overbank.analysis.information import Choice, Worth
from overbank.analysis.survey import Narrowing
from overbank.outputs.in_tables import figure, plain
from overbank.outputs.output import Output, Tables
from overbank.outputs.overtopping import Overtopping
from overbank.sampling.conditional import Conditional
from overbank.sampling.refused import RefusedParts
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.uncertain.inputs import Input, Survey

SAMPLES, LEAST = 256, 32
"""Samples of each replicate, the first ones, for one survey; never fewer than so many."""

SHARE, LADDER = 16, 8
"""One sample in so many gets a short ladder for its probability of overtopping, which takes about so many runs."""

MOST_RUNS = 2**19
"""Runs for all surveys together; more would only cost time."""


@dataclass(frozen=True)
class WorthOfKnowing:
    """What it would be worth in money to know more before deciding.

    loss, cost : what overtopping in the design flood loses, and what acting costs so that it does not happen [money]
    decision : the better choice with what is known today, and the worth of knowing every input
    surveys : worth of the result of each survey on offer
    inputs : worth of knowing each input exactly, the most that a survey of it should ever cost
    """

    loss: float
    cost: float
    decision: Choice
    surveys: tuple[Worth, ...]
    inputs: tuple[Worth, ...]


@dataclass(frozen=True)
class Surveys:
    """Which survey would be worth its cost.

    narrowings : what each survey on offer would narrow, the one that narrows the level most for its cost first
    worth : None where the study says nothing of money, or where it was refused
    notes : what was refused, and what a reader must know
    """

    narrowings: tuple[Narrowing, ...]
    worth: WorthOfKnowing | None
    notes: tuple[str, ...]


def _find(run: Run, overtopping: Overtopping) -> Surveys | None:
    """None where the study offers no survey and says nothing of money."""
    surveying = _Surveying(run, rare=overtopping.beyond is not None)
    if not surveying.offered and run.study.content.decision.loss_if_overtopped is None:
        return None
    found = [surveying.narrowing(item, item.survey) for item in surveying.offered if item.survey is not None]
    ranked = survey.ranked([each for each in found if each is not None])
    return Surveys(ranked, surveying.worth(), tuple(surveying.notes))


class _Surveying(RefusedParts):
    """The parts, each of which may be refused and then leaves a note."""

    def __init__(self, run: Run, rare: bool) -> None:
        super().__init__()
        self.run, self.sampling, self.rare = run, run.sampling, rare
        self.inputs, self.model = self.sampling.inputs, self.sampling.model
        self.offered = [item for item in self.inputs.items if item.survey is not None]
        self.integrated = None if run.ladder is None else run.ladder.name
        self.sign = 1 if run.ladder is None else run.ladder.integrated.sign

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
            if self.integrated in (None, item.name):
                return whole
            conditional = Conditional(self.model, str(self.integrated), self.sign)
            before = self.model.runs.total
            few = found(max(count // SHARE, 4), left, lambda z: (np.zeros(len(z)), conditional.probabilities(z)))
            return replace(
                whole,
                probability_spread=few.probability_spread,
                runs=whole.runs + self.model.runs.total - before,
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
        return self.capped(levels, self.sampling.samples.levels), overtopping.events(levels - banks)

    # --- what knowing is worth --------------------------------------------------------------------------

    def worth(self) -> WorthOfKnowing | None:
        """In money; None where the study says nothing of it."""
        decision = self.sampling.decision
        loss, cost = decision.loss_if_overtopped, decision.cost_of_acting
        if loss is None or cost is None:
            return None
        if self.rare:
            self.notes.append(
                "Overtopping is too rare for the samples that the worth of information is found from; take more "
                "samples before relying on it."
            )
        return self.attempt("worth of information", lambda: self._worth(loss, cost))

    def _worth(self, loss: float, cost: float) -> WorthOfKnowing:
        held = self.sampling.held
        smooth = information.gain(held(self.run.over.probabilities), loss, cost)
        counted = information.gain(overtopping.events(held(self.sampling.samples.depth_over_bank)), loss, cost)
        today = information.choice(smooth)
        generator = np.random.default_rng([self.sampling.settings.seed, 4])
        chance = information.by_chance(smooth, generator)
        chance_counted = information.by_chance(counted, generator) if self.integrated is not None else chance

        def known(name: str, values: Array) -> information.Worth:
            gains, by_chance = (counted, chance_counted) if name == self.integrated else (smooth, chance)
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


def _summary(found: Surveys) -> dict[str, Any]:
    said: dict[str, Any] = {
        "on_offer": {
            each.input: {
                "cost": each.cost,
                "narrows_the_band_of_levels_m": figure(each.narrowing),
                "moves_the_probability_of_overtopping": figure(each.probability_spread),
            }
            for each in found.narrowings
        },
        "notes": list(found.notes),
    }
    if found.worth is not None:
        worth = found.worth
        said["worth_of_knowing"] = {
            "loss_if_overtopped": worth.loss,
            "cost_of_acting": worth.cost,
            "better_today": worth.decision.better,
            "gain_of_acting": figure(worth.decision.gain),
            "everything": figure(worth.decision.everything),
            "result_of_survey": {each.input: _worth_in_short(each) for each in worth.surveys},
            "input_itself": {each.input: _worth_in_short(each) for each in worth.inputs},
        }
    return {"surveys": said}


def _worth_in_short(found: information.Worth) -> dict[str, Any]:
    said = {**figure(found.worth), "by_chance": plain(found.by_chance)}
    return {**said, "words": found.words} if found.words else said


def _tables(found: Surveys) -> Tables:
    return {
        "surveys": survey.table(found.narrowings) if found.narrowings else None,
        "worth_of_knowing": None if found.worth is None else _worth_table(found.worth),
    }


def _worth_table(worth: WorthOfKnowing) -> pd.DataFrame:
    parts = (("result of the survey", worth.surveys), ("the input itself", worth.inputs))
    named = [information.table(worths).assign(knowing=what) for what, worths in parts if worths]
    return pd.concat(named, ignore_index=True)


OUTPUT = Output(
    find=_find,
    needs=("overtopping",),
    stage="weighing what surveys would tell",
    tables=_tables,
    summary=_summary,
)
