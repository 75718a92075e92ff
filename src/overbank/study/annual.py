"""The floods of a year: their distribution, and what is drawn anew in each of them."""

from __future__ import annotations

from dataclasses import dataclass

from overbank.site.numbers import FLOW
from overbank.study.collect import Collected
from overbank.study.flow import ANNUAL, floods_of
from overbank.study.schema import Dependence, StudyFile
from overbank.uncertain.dependence import Copula
from overbank.uncertain.floods import Floods


@dataclass(frozen=True)
class AnnualFloods:
    """What a run needs to ask about the floods of a year.

    floods : the annual maxima, with what is not known of their distribution
    knowledge : uncertain numbers that are the same in all floods, the design flow left out
    each_flood : uncertain numbers that come out anew in each flood
    copula : of knowledge, each flood and the flood of a year ("flow.annual"), in this order
    life_years : the years over which a probability is asked for
    """

    floods: Floods
    knowledge: tuple[str, ...]
    each_flood: tuple[str, ...]
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
    copula = Copula.from_rank_correlations((*knowledge, *each_flood, ANNUAL), _pairs(study.dependence))
    return AnnualFloods(floods, knowledge, each_flood, copula, study.flow.design_life_years)


def _pairs(dependences: list[Dependence]) -> dict[tuple[str, str], float]:
    """Dependences but those of the design flow, which the flood of a year takes the place of."""
    return {each.between: each.rank_correlation for each in dependences if FLOW not in each.between}
