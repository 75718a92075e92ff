"""The floods of a year: their distribution, and what is drawn anew in each of them."""

from __future__ import annotations

from dataclasses import dataclass

from overbank.site.numbers import FLOW
from overbank.study.collect import Collected
from overbank.study.flow import floods_of
from overbank.study.schema import StudyFile
from overbank.study.together import Together
from overbank.uncertain.dependence import Copula
from overbank.uncertain.distributions import Distribution
from overbank.uncertain.floods import Floods


@dataclass(frozen=True)
class AnnualFloods:
    """What a run needs to ask about the floods of a year.

    floods : the annual maxima, with what is not known of their distribution
    knowledge : uncertain numbers that are the same in all floods, the design flow left out
    each_flood : uncertain numbers that come out anew in each flood
    distributions : of knowledge and each flood, in this order, over all floods
    copula : of knowledge, each flood and the flood of a year ("flow.annual"), in this order
    life_years : the years over which a probability is asked for
    """

    floods: Floods
    knowledge: tuple[str, ...]
    each_flood: tuple[str, ...]
    distributions: tuple[Distribution, ...]
    copula: Copula
    life_years: int | None


def annual_floods(study: StudyFile, collected: Collected) -> AnnualFloods | None:
    """None where the study gives no annual maxima."""
    floods = floods_of(study.flow, study.run.seed)
    if floods is None:
        return None
    kinds = {item.name: item.kind for item in collected.assumptions}
    names = [name for name in collected.uncertain if name != FLOW]
    knowledge = tuple(name for name in names if kinds[name] == "knowledge")
    each_flood = tuple(name for name in names if kinds[name] == "each flood")
    names = [*knowledge, *each_flood]
    distributions = tuple(each for name in names if (each := collected.uncertain[name].distribution) is not None)
    copula = Together.of(study.dependence).of_a_year(names)
    return AnnualFloods(floods, knowledge, each_flood, distributions, copula, study.flow.design_life_years)
