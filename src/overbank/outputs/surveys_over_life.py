"""What surveys are worth over the life before an arrangement is chosen: each alone, several together, or none."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from overbank.analysis import knowing, survey
from overbank.analysis.intervals import Array, Estimate
from overbank.outputs.annual import Annual
from overbank.outputs.in_tables import columns, figure
from overbank.outputs.money import Accounts
from overbank.outputs.output import Output, Tables
from overbank.sampling.refused import RefusedParts
from overbank.sampling.run import Run
from overbank.uncertain.inputs import Input, Survey

FLOODS = "flow.annual"
"""Stands for the parameters of the flood distribution among what may be known exactly."""


@dataclass(frozen=True)
class Known:
    """What it is worth over the life to know something before choosing [money].

    inputs : of the surveys made together, or the one that is known exactly
    worth : what the choice saves by it, worth today
    cost : of the surveys; 0 for what is known exactly, which nothing here offers
    net : worth less cost
    """

    inputs: tuple[str, ...]
    worth: Estimate
    cost: float
    net: Estimate


@dataclass(frozen=True)
class SurveysOverLife:
    """Worth of knowing more, over the life.

    today : the arrangement that costs least on average with what is known today
    surveys : each alone, then the best of them with the next ones; empty where the study offers none
    exact : each number that is not known, known exactly; the one most worth knowing first
    everything : all of them known, beyond which no survey can go
    notes : what was refused or left out
    """

    today: str
    surveys: tuple[Known, ...]
    exact: tuple[Known, ...]
    everything: Estimate
    notes: tuple[str, ...]


def _find(run: Run, annual: Annual | None, money: Accounts | None) -> SurveysOverLife | None:
    """None where there is no choice to inform (money, floods of a year, alternatives), or with two replicates."""
    if annual is None or money is None or money.states is None or money.states.shape[1] < knowing.LEAST_REPLICATES:
        return None
    weighing = _Weighing(run, annual, money.states)
    surveys, exact = weighing.surveys(), weighing.exact()
    today = money.each[knowing.least(money.states)].name
    return SurveysOverLife(today, surveys, exact, knowing.everything(money.states), tuple(weighing.notes))


class _Weighing(RefusedParts):
    """The surveys on offer and the states of knowledge that they would tell apart."""

    def __init__(self, run: Run, annual: Annual, costs: Array) -> None:
        super().__init__()
        self.costs, self.annual, self.inputs = costs, annual, run.sampling.inputs
        self.generator = np.random.default_rng([run.sampling.settings.seed, 7])

    def surveys(self) -> tuple[Known, ...]:
        offered = [(item, item.survey) for item in self.inputs.items if item.survey is not None]
        results: dict[str, Array] = {}
        for item, offer in offered:
            found = self.attempt(
                f"worth over the life of the survey of {item.name}", partial(self._result, item, offer)
            )
            if found is not None:
                results[item.name] = found
        price = {item.name: offer.cost for item, offer in offered}
        alone = {name: self._known((name,), results, price).net.value for name in results}
        return tuple(self._known(each, results, price) for each in knowing.in_growing_sets(list(results), alone))

    def _result(self, item: Input, offer: Survey) -> Array | None:
        if item.name not in self.annual.given.knowledge:
            self.notes.append(
                f"The survey of {item.name} is left out here: it comes out anew in each flood, so that a survey of it "
                "today tells nothing of the floods to come."
            )
            return None
        left = survey.share_left(item.distribution.value, offer.sd_after)
        return survey.result(self._scores(item.name), left, self.generator)

    def exact(self) -> tuple[Known, ...]:
        names = list(self.annual.given.knowledge)
        results = {name: self._scores(name) for name in names}
        if not self.annual.given.floods.known:
            results[FLOODS] = self.annual.known_floods
        found = [self._known((name,), results, {name: 0.0}) for name in results]
        return tuple(sorted(found, key=lambda each: -each.worth.value))

    def _scores(self, name: str) -> Array:
        return self.annual.known[..., self.annual.given.knowledge.index(name)]

    def _known(self, inputs: tuple[str, ...], results: dict[str, Array], price: dict[str, float]) -> Known:
        worth = knowing.saved(self.costs, np.stack([results[name] for name in inputs], axis=-1))
        cost = sum(price[name] for name in inputs)
        net = Estimate(worth.value - cost, worth.low - cost, worth.high - cost, worth.method, worth.note)
        return Known(inputs, worth, cost, net)


def _summary(found: SurveysOverLife) -> dict[str, Any]:
    said = {
        "costs_least_today": found.today,
        "surveys": [{"of": list(e.inputs), "cost": e.cost, **figure(e.worth)} for e in found.surveys],
        "known_exactly": {each.inputs[0]: figure(each.worth) for each in found.exact},
        "everything": figure(found.everything),
        "notes": list(found.notes),
    }
    return {"surveys_over_life": said}


def _tables(found: SurveysOverLife) -> Tables:
    rows: list[dict[str, Any]] = []
    for knowing_what, parts in (("results of the surveys", found.surveys), ("the number itself", found.exact)):
        for each in parts:
            row = {"knowing": knowing_what, "of": " and ".join(each.inputs), "together": len(each.inputs)}
            rows.append(row | columns("worth", each.worth) | {"cost": each.cost} | columns("net", each.net))
    rows.append({"knowing": "everything", "of": "", "together": len(found.exact), **columns("worth", found.everything)})
    return {"surveys_over_life": pd.DataFrame(rows)}


OUTPUT = Output(find=_find, needs=("annual", "money"), tables=_tables, summary=_summary)
