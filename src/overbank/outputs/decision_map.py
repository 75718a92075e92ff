"""What would change the choice: the arrangements under other debris and other dependences, on the same random numbers.

Half, as much and twice the debris; no dependence, as stated, and with tails that bring the highest values together.
And under each of these: with which other bank another arrangement would go over least often.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from overbank.analysis import exceedance, overtopping
from overbank.analysis.intervals import COMMON, Estimate, over_replicates
from overbank.analysis.overtopping import Probability
from overbank.outputs.comparison import AS_IT_STANDS
from overbank.outputs.in_tables import columns, figure, table_of
from overbank.outputs.output import Output, Tables
from overbank.sampling.integrated import debris_at
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.study.load import Study

SAMPLES = 4096
"""Of each arrangement under each assumption, at the most."""

DEBRIS = (("half as much debris", 0.5), ("as assumed", 1.0), ("twice as much debris", 2.0))
"""In words, and the power to which the open share is raised, as in the allowance."""

RAISED = np.arange(-50, 101) / 100.0
"""By how much higher every bank is looked at [m]."""

STATED = "as stated"
DEPENDENCE = ("none", STATED, "with high tails")


@dataclass(frozen=True)
class Corner:
    """The arrangements under one assumption of the debris and one of the dependence.

    probability : of overtopping in the design flood, by plain count; level : with the assurance asked for [m]
    least : the arrangement that goes over least often
    apart : by how much less often than the next one; its interval holds 0 where they cannot be told apart
    turn : by how much higher all banks must be for another to go over less often, the least change of them [m], and
        which that is; None within `RAISED`
    """

    debris: str
    dependence: str
    probability: dict[str, Probability]
    level: dict[str, Estimate]
    least: str
    apart: Estimate
    turn: tuple[float, str] | None

    @property
    def told(self) -> bool:
        """Whether the first can be told from the next."""
        return self.apart.low > 0.0


def _find(run: Run) -> tuple[Corner, ...] | None:
    """None where the study has no alternative, or no uncertain blockage."""
    if not run.study.alternatives or debris_at(run.model.problem, run.model.place) is None:
        return None
    settings = run.study.content.run
    fewer = settings.samples > SAMPLES and SAMPLES % settings.replicates == 0
    samples = SAMPLES if fewer else settings.samples
    found: list[Corner] = []
    for words, study in _dependences(run.study.with_samples(samples)):
        run.report(f"what would change the choice: dependence {words}")
        runs = {AS_IT_STANDS: Run(study, run.columns, runs=run.model.runs)}
        for name in run.study.alternatives:
            runs[name] = Run(_dependent(study.alternative(name), words), run.columns, runs=run.model.runs)
        found += [
            _corner(debris, words, {name: _levels(each, power) for name, each in runs.items()}, run)
            for debris, power in DEBRIS
        ]
    return tuple(found)


def _dependences(study: Study) -> Iterator[tuple[str, Study]]:
    """The kinds of dependence looked at; only that stated where the study has none."""
    for words in DEPENDENCE if study.content.dependence else (STATED,):
        yield words, _dependent(study, words)


def _dependent(study: Study, words: str) -> Study:
    stated = study.content.dependence
    tailed = [e.model_copy(update={"tails": "survival_clayton"}) if e.rank_correlation > 0.0 else e for e in stated]
    kinds = {"none": [], STATED: stated, "with high tails": tailed}
    return replace(study, content=study.content.model_copy(update={"dependence": kinds[words]}))


def _levels(run: Run, power: float) -> tuple[Array, Array]:
    """Levels and depths over the bank [m] with the open share raised to a power, (R, N)."""
    sampling, model = run.sampling, run.model
    rows, name = sampling.rows.copy(), debris_at(model.problem, model.place)
    if name is not None:
        column = model.problem.inputs.index(name)
        rows[:, column] = 1.0 - (1.0 - rows[:, column]) ** power
    levels = model.levels(rows)
    return levels.reshape(sampling.shape), (levels - model.banks(rows)).reshape(sampling.shape)


def _corner(debris: str, dependence: str, found: dict[str, tuple[Array, Array]], run: Run) -> Corner:
    settings, assurance = run.study.content.run, run.study.content.decision.assurance
    chances = {name: np.mean(~(depths <= 0.0), axis=1) for name, (_, depths) in found.items()}
    first, second, *_ = sorted(chances, key=lambda name: float(np.mean(chances[name])))
    return Corner(
        debris,
        dependence,
        {name: overtopping.plain(depths, settings.design) for name, (_, depths) in found.items()},
        {
            name: exceedance.plain_quantile(levels, 1.0 - assurance, settings.design)
            for name, (levels, _) in found.items()
        },
        first,
        over_replicates(chances[second] - chances[first], COMMON),
        turn({name: depths for name, (_, depths) in found.items()}, first),
    )


def turn(depths: dict[str, Array], first: str) -> tuple[float, str] | None:
    """The bank nearest to that of the study with which another than the first goes over less often.

    Parameters
    ----------
    depths : over the bank of each arrangement [m], shape (R, N), on common random numbers
    first : the one that goes over least often with the banks of the study

    Returns
    -------
    how much higher the bank is [m], and the other; only where the 95 % interval of their difference tells them apart
    """
    for higher in sorted(RAISED, key=abs):
        chance = {name: np.mean(~(each <= higher), axis=1) for name, each in depths.items()}
        other = min(chance, key=lambda name: float(np.mean(chance[name])))
        if other != first and over_replicates(chance[first] - chance[other], COMMON).low > 0.0:
            return float(higher), other
    return None


def _summary(found: tuple[Corner, ...]) -> dict[str, Any]:
    return {
        "decision_map": [
            {
                **{"debris": each.debris, "dependence": each.dependence, "least_often_over": each.least},
                "less_than_the_next": figure(each.apart),
                "another_with_the_bank_higher_by_m": None if each.turn is None else each.turn[0],
            }
            for each in found
        ]
    }


def _tables(found: tuple[Corner, ...]) -> Tables:
    rows = (
        {
            **{"debris": each.debris, "dependence": each.dependence, "arrangement": name},
            **columns("probability", probability),
            **columns("assured_level_m", each.level[name]),
            "least_often_over": name == each.least,
            "least_with_the_bank_higher_by_m": _turned(each, name),
        }
        for each in found
        for name, probability in each.probability.items()
    )
    return {"decision_map": table_of(rows)}


def _turned(found: Corner, name: str) -> float:
    """With which other bank an arrangement would go over least often; nan where there is none."""
    return np.nan if found.turn is None or found.turn[1] != name else found.turn[0]


OUTPUT = Output(find=_find, tables=_tables, summary=_summary)
