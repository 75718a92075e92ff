"""Which numbers go together: the dependences of a study, as the design flood and the floods of a year take them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Self

from overbank.site.numbers import FLOW
from overbank.study.flow import ANNUAL
from overbank.study.schema import Dependence
from overbank.uncertain.dependence import Copula
from overbank.uncertain.pair_tails import Tail


@dataclass(frozen=True)
class Together:
    """Rank correlations of pairs, and the tails of those that have their own.

    pairs : two dotted names -> Spearman's rank correlation
    tails : two dotted names -> the family
    """

    pairs: dict[tuple[str, str], float]
    tails: dict[tuple[str, str], Tail]

    @classmethod
    def of(cls, dependences: Iterable[Dependence]) -> Self:
        """As a study states them."""
        listed = list(dependences)
        tails: dict[tuple[str, str], Tail] = {each.between: each.tails for each in listed if each.tails != "gaussian"}
        return cls({each.between: each.rank_correlation for each in listed}, tails)

    def of_design_flood(self, names: Sequence[str], rarity_known: bool) -> Copula:
        """The numbers of the design flood; the flood of a year is the last, where it says how rare the design flood is.

        That flow and the flood of a year are independent: what is uncertain in it is knowledge.
        """
        if not rarity_known or not any(ANNUAL in pair for pair in self.pairs):
            return self._without(ANNUAL)._copula(names)
        stated = any(FLOW in pair and ANNUAL in pair for pair in self.pairs)  # which is refused
        apart = {(FLOW, ANNUAL): 0.0} if FLOW in names and not stated else {}
        return Together({**self.pairs, **apart}, self.tails)._copula((*names, ANNUAL))

    def of_a_year(self, names: Sequence[str]) -> Copula:
        """Some numbers and the flood of a year, which takes the place of the design flow."""
        return self._without(FLOW)._copula((*names, ANNUAL))

    def _without(self, name: str) -> Together:
        pairs = {pair: rho for pair, rho in self.pairs.items() if name not in pair}
        return Together(pairs, {pair: tail for pair, tail in self.tails.items() if name not in pair})

    def _copula(self, names: Sequence[str]) -> Copula:
        return Copula.from_rank_correlations(names, self.pairs, self.tails, hub=ANNUAL)
