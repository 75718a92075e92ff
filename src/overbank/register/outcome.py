"""The whole register from its parts: ranks, how sure they are, what could be done first, and the table of it all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from overbank.analysis.among_worst import among_worst, apart
from overbank.analysis.spending import Spending, best_spending, worth_of_knowing
from overbank.errors import DomainError
from overbank.register.defaults import Defaults
from overbank.register.parts import Draws, Part
from overbank.register.table import CellFault, Register
from overbank.sampling.samples import Array

SEED = 20261130
"""Of the order of the draws where what is not known is each structure's own."""


@dataclass(frozen=True)
class Whole:
    """What is found of a register.

    table : a row a structure, the worst first
    faults : of rows that were set aside, in the order of the table's lines
    rows, aside : in the table, and set aside
    worst : how many "the worst" are
    by_year : whether damages and benefits are those of a year; else of a design flood
    spending : what is chosen for the money; None where no money or no action is named
    money, floods : as the budget has them
    """

    title: str
    table: pd.DataFrame
    faults: tuple[CellFault, ...]
    rows: int
    aside: int
    worst: int
    by_year: bool
    spending: Spending | None
    money: float | None
    floods: float
    actions: tuple[str, ...]
    ignored: tuple[str, ...]


def whole_of(register: Register, defaults: Defaults, parts: Iterable[Part]) -> Whole:
    """Put the parts together.

    Raises
    ------
    DomainError : no row is left
    """
    every = list(parts)
    faults = sorted((*register.faults, *(fault for part in every for fault in part.faults)), key=lambda each: each.line)
    kept = [part for part in every if len(part.table)]
    if not kept:
        kinds = Counter(f"{fault.column}: expected {fault.expected}" for fault in faults)
        told = "; ".join(words for words, _ in kinds.most_common(3)) or "no row at all"
        raise DomainError(
            f"{register.path}: expected a row that can be used; got none of {register.rows}, mostly {told}. Correct "
            "the table or its defaults"
        )
    table = pd.concat([part.table for part in kept], ignore_index=True)
    states = np.concatenate([part.states for part in kept])
    done = {
        action.name: np.concatenate([part.with_action[action.name] for part in kept]) for action in defaults.actions
    }
    by_year = bool(table["in_a_year"].notna().all())
    worst = min(defaults.worst, len(table))
    table = table.assign(
        rank=_ranks(table["probability"]),
        expected_damage=table["in_a_year" if by_year else "probability"] * table["loss"],
        among_worst=among_worst(states, worst),
        among_worst_apart=among_worst(apart(states, SEED), worst),
    )
    table["rank_by_damage"] = _ranks(table["expected_damage"])
    table, spending = _spent(table, states, done, defaults, by_year)
    return Whole(
        title=defaults.title,
        table=table.sort_values(["rank", "line"], kind="stable").reset_index(drop=True),
        faults=tuple(faults),
        rows=register.rows,
        aside=register.rows - len(table),
        worst=worst,
        by_year=by_year,
        spending=spending,
        money=defaults.money,
        floods=defaults.floods,
        actions=tuple(done),
        ignored=register.ignored,
    )


def _ranks(values: pd.Series) -> pd.Series:
    """1 for the highest; the same for the same; none where there is none."""
    return values.rank(method="min", ascending=False).astype("Int64")


def _spent(
    table: pd.DataFrame, states: Draws, done: Mapping[str, Draws], defaults: Defaults, by_year: bool
) -> tuple[pd.DataFrame, Spending | None]:
    """The benefit of every action, the worth of knowing first, and what is chosen for the money."""
    if not done:
        return table, None
    which = "in_a_year" if by_year else "probability"
    weight = (defaults.floods * table["loss"]).to_numpy(dtype=np.float64)
    before, gains, benefits, costs = table[which].to_numpy(), [], [], []
    for name, after in done.items():
        drop = before - table[f"{which}_after_{name}"].to_numpy()
        benefit, cost = weight * drop, table[f"cost_of_{name}"].to_numpy()
        table[f"benefit_of_{name}"] = benefit
        in_states = states - after
        scale = _scale(drop, in_states) if by_year else np.ones(len(table))
        gains.append(np.asarray((weight * scale)[:, None] * in_states - cost[:, None], dtype=np.float32))
        benefits.append(benefit)
        costs.append(cost)
    table["worth_of_knowing"] = worth_of_knowing(np.array(gains))
    table["rank_by_worth"] = _ranks(table["worth_of_knowing"])
    if defaults.money is None:
        return table, None
    flat_benefits, flat_costs = np.nan_to_num(np.concatenate(benefits)), np.nan_to_num(np.concatenate(costs))
    places = np.tile(np.arange(len(table)), len(done))
    spending = best_spending(flat_benefits, flat_costs, places, defaults.money)
    names = np.repeat(list(done), len(table))
    chosen = np.full(len(table), "", dtype=object)
    chosen[places[spending.chosen]] = names[spending.chosen]
    return table.assign(chosen=chosen), spending


def _scale(drop: Array, in_states: Draws) -> Array:
    """What turns benefits in a design flood into those in a year: their means agree, and the states spread alike."""
    means = in_states.mean(axis=1, dtype=np.float64)
    return np.where(means > 0.0, drop / np.where(means > 0.0, means, 1.0), 0.0)
