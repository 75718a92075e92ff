"""Policies: the alternatives of a study on the same floods, with their crews and the warning that these have."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overbank.analysis import damage
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.analysis.overtopping import Probability
from overbank.outputs.passed_floods import PAIRED, Floods
from overbank.outputs.warned import Calls, Warned
from overbank.sampling.moments import time_over
from overbank.sampling.passage import Passage
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.study.load import Study


@dataclass(frozen=True)
class Policy:
    """An arrangement on the same floods: its probability of going over the bank, and the change against the study.

    removed : probability that it removes for each unit of its cost [1/money]; None where the study gives no cost
    warned : the warning of its crew; None without a crew, or where too few floods reach the bank
    """

    name: str
    over: Probability
    change: Estimate
    change_of_hours: Estimate
    removed: Estimate | None
    warned: Warned | None


def policies(run: Run, floods: Floods, found: Passage, alone: Passage, most: int) -> tuple[Policy, ...]:
    """Every alternative whose flood has a shape, on the same floods.

    Parameters
    ----------
    floods : of the study; found, alone : as the study has them, and with nobody at work
    most : samples
    """
    each = []
    own = _counted(floods, found)
    for name in run.study.alternatives:
        changed = run.study.alternative(name)
        if changed.content.flow.hydrograph is None:
            continue
        run.report(f"through the flood: {name}")
        other = Floods(Run(changed, run.columns, runs=run.model.runs), most)
        nobody = alone if changed.alike(run.study, "crew") else other.passed(crew=False)
        passed = other.over_with_crew(nobody)
        over, hours = (over_replicates(a - b, PAIRED) for a, b in zip(_counted(other, passed), own, strict=True))
        warned = None
        if other.written.crew is not None:
            warned = Calls(other, nobody, passed.called).warned()
        removed = _removed(over, _cost(run.study, name))
        each.append(Policy(name, other.over(passed.highest), over, hours, removed, warned))
    return tuple(each)


def _cost(study: Study, name: str) -> float:
    """Of an alternative beyond the site as it stands: to make it, and its maintenance over the life of [money], or of a
    year without."""
    (own,) = (each for each in study.content.alternative if each.name == name)
    money = study.content.money
    if money is None:
        return own.cost + own.maintenance_a_year
    more = own.maintenance_a_year - money.maintenance_a_year
    return own.cost + damage.annuity(money.discount_rate, money.life_years) * more


def _removed(change: Estimate, cost: float) -> Estimate | None:
    """Probability removed for each unit of cost; None where it costs nothing more."""
    if cost <= 0.0:
        return None
    return Estimate(-change.value / cost, -change.high / cost, -change.low / cost, change.method, change.note)


def _counted(floods: Floods, found: Passage) -> tuple[Array, Array]:
    """Share of the samples over the bank, and mean time over it [hours], in each replicate."""
    depths = found.levels - floods.bank
    over = np.where(np.isnan(found.highest), np.nan, found.highest > floods.bank)
    hours = np.where(np.isnan(found.highest), np.nan, time_over(found.times, depths))
    return np.nanmean(floods.table(over), axis=1), np.nanmean(floods.table(hours), axis=1)
