"""Money: expected annual damage of every arrangement, its cost over the life, and its net benefit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from overbank.analysis import damage
from overbank.analysis.intervals import Estimate, over_replicates, share_over_replicates
from overbank.outputs.in_tables import columns, figure
from overbank.outputs.output import Output, Tables
from overbank.outputs.years import InYears
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.study.money import Money

CHANCE = "states of knowledge on common random numbers, Student t over replicates"


@dataclass(frozen=True)
class Account:
    """What an arrangement costs, with the interval of the sampling [money].

    damage : expected in a year; low, high : the same were every level's annual probability at its 5 and 95 % quantile
        over what is not known
    today : worth today of the damages over the life; costs : of building and maintaining it; whole : both together
    best : share of the states of knowledge in which damages and costs over the life are the least of all arrangements;
        None with one arrangement, or where uncertain numbers differ, so that states cannot be set side by side
    benefit : damages that it saves over the life less what it costs more than the site as it stands; None for that
    """

    name: str
    damage: Estimate
    low: float
    high: float
    today: Estimate
    costs: float
    whole: Estimate
    benefit: Estimate | None
    best: Estimate | None = None


@dataclass(frozen=True)
class Accounts:
    """The arrangements, the site as it stands first.

    level : the one from which the depth counts [m]
    factor : what one a year over the life is worth today
    states : damages and costs over the life, worth today, of each arrangement in each of the states of knowledge that
        are kept (A, R, S); None where these cannot be set side by side
    """

    given: Money
    level: float
    factor: float
    each: tuple[Account, ...]
    states: Array | None


def _find(run: Run, years: tuple[InYears, ...] | None) -> Accounts | None:
    """None where the study says nothing of money, or gives no annual maxima."""
    money = run.study.content.money
    if money is None or years is None:
        return None
    banks = run.sampling.banks[run.sampling.at]
    level = float(np.median(banks)) if money.from_level_m is None else money.from_level_m
    accounting = _Accounting(money, level, damage.annuity(money.discount_rate, money.life_years))
    extra = {each.name: (each.cost, each.maintenance_a_year) for each in run.study.content.alternative}
    accounts: list[Account] = []
    base: Array | None = None
    for each in years:
        cost, maintenance = extra.get(each.name, (0.0, money.maintenance_a_year))
        account, seen = accounting.account(each, cost, maintenance, base)
        base = seen if base is None else base
        accounts.append(account)
    states = _states(accounting, years, accounts)
    if states is not None:
        accounts = [replace(a, best=b) for a, b in zip(accounts, _best(states), strict=True)]
    return Accounts(money, level, accounting.factor, tuple(accounts), states)


def _states(accounting: _Accounting, years: tuple[InYears, ...], accounts: list[Account]) -> Array | None:
    """Damages and costs by state, on the same random numbers in all; None where they differ, or some failed."""
    given = years[0].annual.given
    alike = all(
        (e.annual.given.knowledge, e.annual.given.each_flood) == (given.knowledge, given.each_flood) for e in years
    )
    if len(years) < 2 or not alike:
        return None
    found = np.array([accounting.of_states(e) + a.costs for e, a in zip(years, accounts, strict=True)])
    return found if np.all(np.isfinite(found)) else None


def _best(states: Array) -> list[Estimate]:
    """How often each arrangement costs least; equals share alike."""
    least = np.isclose(states, states.min(axis=0), rtol=1e-9, atol=0.0)
    shares = np.mean(least / least.sum(axis=0), axis=2)
    return [share_over_replicates(share, states[0].size, CHANCE) for share in shares]


@dataclass(frozen=True)
class _Accounting:
    """What the accounts are kept with."""

    money: Money
    level: float
    factor: float

    def account(self, arranged: InYears, cost: float, maintenance: float, base: Array | None) -> tuple[Account, Array]:
        """The account of an arrangement, and the damage a year of each replicate; `base` is that of the site as is."""
        frequency = arranged.annual.frequency
        found, each = damage.of_levels(frequency.expected, self._damage, self._bends)
        low, high = (self._at(frequency.expected.at, frequency.knowledge[share]) for share in (0.05, 0.95))
        costs = cost + self.factor * maintenance
        today = self._scaled(found, self.factor, 0.0)
        benefit = None
        if base is not None:
            more = costs - self.factor * self.money.maintenance_a_year
            benefit = over_replicates(self.factor * (base - each) - more, damage.METHOD)
        whole = self._scaled(found, self.factor, costs)
        return Account(arranged.name, found, low, high, today, costs, whole, benefit), each

    def of_states(self, arranged: InYears) -> Array:
        """Damages over the life, worth today, in each of the states that are kept (R, S)."""
        frequency = arranged.annual.frequency
        found = [[self._at(frequency.expected.at, row) for row in states] for states in frequency.each]
        return self.factor * np.array(found)

    @property
    def _bends(self) -> Array:
        """Levels at which the damage bends or jumps [m]."""
        return np.unique([self.level, *(self.level + depth for depth, _ in self.money.depth_damage)])

    def _damage(self, levels: Array) -> Array:
        return self.money.damage(levels - self.level)

    def _at(self, levels: Array, probability: Array) -> float:
        return damage.of_curve(levels, probability, self._damage, self._bends)

    @staticmethod
    def _scaled(found: Estimate, factor: float, more: float) -> Estimate:
        value, low, high = (factor * number + more for number in (found.value, found.low, found.high))
        return Estimate(value, low, high, found.method, found.note)


def _summary(found: Accounts) -> dict[str, Any]:
    return {"money": {each.name: _in_short(each) for each in found.each}}


def _in_short(found: Account) -> dict[str, Any]:
    said = {
        "expected_annual_damage": figure(found.damage),
        "over_what_is_not_known": {"0.05": round(found.low, 6), "0.95": round(found.high, 6)},
        "damages_today": figure(found.today),
        "costs_today": round(found.costs, 6),
        "whole_life_cost": figure(found.whole),
    }
    more = {"net_benefit": found.benefit, "chance_of_costing_least": found.best}
    return said | {name: figure(each) for name, each in more.items() if each is not None}


def _tables(found: Accounts) -> Tables:
    nothing = Estimate(np.nan, np.nan, np.nan, "")
    rows = []
    for each in found.each:
        row: dict[str, Any] = {"arrangement": each.name, **columns("expected_annual_damage", each.damage)}
        row |= {"damage_at_5_of_knowledge": each.low, "damage_at_95_of_knowledge": each.high}
        row |= columns("damages_today", each.today) | {"costs_today": each.costs}
        row |= columns("whole_life_cost", each.whole) | columns("net_benefit", each.benefit or nothing)
        row |= columns("chance_of_costing_least", each.best or nothing)
        rows.append(row)
    return {"money": pd.DataFrame(rows)}


OUTPUT = Output(find=_find, needs=("years",), tables=_tables, summary=_summary)
