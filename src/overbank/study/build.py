"""From a checked study to a problem: the site, its certain numbers, and its uncertain inputs.

This is the only bridge from a study to `overbank.site` and `overbank.uncertain`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from overbank.site.row import Site
from overbank.site.surveyed import SurveyedNormalDepth
from overbank.site.tailwater import FixedLevel, NormalDepth, Rating, Tailwater
from overbank.study import schema, tailwaters
from overbank.study.annual import AnnualFloods, annual_floods
from overbank.study.collect import Assumption, Collected, Follower
from overbank.study.defaults import collect
from overbank.study.elements.approach import survey_section
from overbank.study.flow import ANNUAL
from overbank.study.load import Study
from overbank.study.together import Together
from overbank.uncertain.inputs import Input, Inputs, Survey
from overbank.uncertain.settled import settled

Column = float | NDArray[np.float64]


@dataclass(frozen=True)
class Problem:
    """Everything that a run needs.

    site : the structures and the tailwater
    fixed : certain numbers by dotted name, defaults filled in
    inputs : uncertain numbers, one column each, and their dependence
    followers : numbers left out of the study that stand on another one
    assumptions : every number with its basis, in the order of the site, for the register
    dependences : rank correlations as written, each with its basis
    at : id of the element whose bank counts
    annual : the floods of a year, where the study gives annual maxima
    """

    site: Site
    fixed: Mapping[str, float]
    inputs: Inputs
    followers: tuple[Follower, ...]
    assumptions: tuple[Assumption, ...]
    dependences: tuple[schema.Dependence, ...]
    at: str
    annual: AnnualFloods | None

    def numbers(self, values: NDArray[np.float64]) -> dict[str, Column]:
        """All numbers of the site for values of the inputs [samples, d], or [d] for a single sample."""
        return self.with_numbers({name: values[..., column] for column, name in enumerate(self.inputs.names)})

    def with_numbers(self, given: Mapping[str, Column]) -> dict[str, Column]:
        """All numbers of the site, those given in place of its own; what stands on one of them moves with it."""
        table: dict[str, Column] = {**self.fixed, **given}
        for follower in self.followers:
            if follower.name not in given:
                table[follower.name] = follower.value(table)
        return table

    def medians(self) -> dict[str, Column]:
        """All numbers with every uncertain one at its median: the deterministic run."""
        return self.numbers(self.inputs.medians())

    def gaps(self) -> tuple[str, ...]:
        """Uncertain numbers for which nobody says where they come from."""
        return tuple(item.name for item in self.assumptions if item.uncertain and item.basis is None)

    def origin(self, name: str) -> str:
        """Who gives a number: "study", or "default" where the study leaves it out; empty for no number of the study."""
        return next(("default" if item.assumed else "study" for item in self.assumptions if item.name == name), "")


def build(study: Study) -> Problem:
    """The problem that a study describes."""
    content = study.content
    collected = collect(content)
    uppers = (*content.element[1:], None)
    return Problem(
        site=Site(
            tuple(element.build(above) for element, above in zip(content.element, uppers, strict=True)),
            _tailwater(content.tailwater),
        ),
        fixed=collected.fixed,
        inputs=_inputs(collected, content),
        followers=tuple(collected.followers),
        assumptions=tuple(collected.assumptions),
        dependences=tuple(content.dependence),
        at=content.decision.at or next(each.id for each in content.element if each.has_bank),
        annual=annual_floods(content, collected),
    )


def _tailwater(tailwater: tailwaters.Tailwater) -> Tailwater:
    normal_depth = tailwater.normal_depth
    if isinstance(normal_depth, tailwaters.SurveyedNormalDepth):
        return SurveyedNormalDepth(survey_section(normal_depth.section))
    if normal_depth is not None:
        return NormalDepth(normal_depth.section.shape)
    if tailwater.rating is not None:
        return Rating(tailwater.rating.flows, tailwater.rating.levels)
    return FixedLevel()


def _inputs(collected: Collected, content: schema.StudyFile) -> Inputs:
    """The uncertain numbers of the design flood: what goes with the flood of a year is as it is in one so rare."""
    probability, numbers = content.flow.design_annual_probability, collected.uncertain
    copula = Together.of(content.dependence).of_design_flood(tuple(numbers), probability is not None)
    distributions = tuple(each for number in numbers.values() if (each := number.distribution) is not None)
    if probability is not None and ANNUAL in copula.names:
        copula, distributions = settled(copula, ANNUAL, -float(ndtri(probability)), distributions)
    items = []
    for (name, number), distribution in zip(numbers.items(), distributions, strict=True):
        offered = number.survey
        survey = None if offered is None else Survey(offered.sd_after, offered.cost)
        items.append(Input(name, distribution, number.basis, survey))
    return Inputs(tuple(items), copula)
