"""Which inputs drive the level and the overtopping: shares of their variance, and how each changes along an input."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from overbank.analysis import (
    effects,
    event_effects,
    given_data,
    overtopping,
    second_order,
    sensitivity,
    shapley,
    tails,
    target,
)
from overbank.analysis.effects import Effect
from overbank.analysis.given_data import FirstOrder
from overbank.analysis.second_order import SecondOrder
from overbank.analysis.sensitivity import Indices
from overbank.analysis.shapley import Shapley
from overbank.analysis.together import together
from overbank.errors import DomainError
from overbank.model import Model
from overbank.outputs.output import Output, Tables
from overbank.sampling.conditional import Conditional
from overbank.sampling.refused import RefusedParts
from overbank.sampling.run import Run
from overbank.sampling.samples import Array, Sampling
from overbank.uncertain.dependence import Copula
from overbank.uncertain.designs import scores
from overbank.uncertain.inputs import Inputs

MOST_CROSSED = 2**15
"""Rows of crossed samples for the indices of the level; more would only cost time."""

MOST_LADDERS = 2**12
"""Rows of crossed samples for the indices of the event, each of which takes a short ladder."""

MOST_SUBSETS = 2**18
"""Runs for Shapley effects of the level, all subsets together."""

MOST_SUBSETS_OF_LADDERS = 2**15
"""Short ladders for Shapley effects of the event, all subsets together."""

MOST_PAIRED = 2**18
"""Runs for what every two inputs do together, all pairs together."""

FEWER = 8
"""Every subset takes no more rows than this part of the samples: a run of few samples is asked for a quick answer."""

LEVELS = ("level_m", "invert_m", "shift_m")
"""Ends of the names of what a survey of levels settles."""

TOGETHER = "all surveyed levels together"
OTHERS = "all other inputs together"

LEFT_OUT = (
    "The Sobol' indices take all inputs as independent: the dependence stated in the study is left out there, and only "
    "there, because such shares do not add up for inputs that depend on each other. The Shapley effects honour it."
)

AS_NORMAL = (
    "The Shapley effects take a pair with a dependence in its far ends as one with the same rank correlation and none."
)


@dataclass(frozen=True)
class Drivers:
    """What drives the level and the overtopping; a part that was refused is None and the notes say why.

    level, overtopping : Sobol' indices of the level and of the event, all inputs taken as independent
    groups : of the level, inputs taken together; None where there are none to take together
    pairs : of the level, what every two inputs do together; None where the study does not ask for it
    shapley, shapley_of_event : of the level and of the event, where inputs depend on each other, else None
    given : first-order indices of the level from the run's own samples, dependence and all
    effects : "level" and "overtopping" -> their mean along every input
    """

    level: Indices | None
    overtopping: Indices | None
    groups: Indices | None
    pairs: SecondOrder | None
    shapley: Shapley | None
    shapley_of_event: Shapley | None
    given: FirstOrder | None
    effects: dict[str, tuple[Effect, ...]]
    notes: tuple[str, ...]


def _find(run: Run) -> Drivers:
    """Sobol' indices by crossed samples; Shapley effects where inputs depend on each other; curves along each input."""
    ranking = _Ranking(run)
    level, groups = ranking.of_level()
    given, over = ranking.given(), ranking.of_overtopping()
    return Drivers(
        level=level,
        overtopping=over,
        groups=groups,
        pairs=ranking.pairs(),
        shapley=ranking.shapley(level),
        shapley_of_event=ranking.shapley_of_event(over),
        given=given,
        effects=ranking.effects(),
        notes=tuple(ranking.notes),
    )


def crossed_samples(samples: int, replicates: int, most: int) -> int:
    """How many samples are crossed for the indices: all, or as many halves of them as bring them under the limit."""
    each = samples // replicates
    while each * replicates > most and each > 1:
        each //= 2
    return each * replicates


class _Ranking(RefusedParts):
    """The parts of the ranking, each of which may be refused and then leaves a note."""

    def __init__(self, run: Run) -> None:
        super().__init__()
        self.run, self.sampling = run, run.sampling
        self.inputs, self.settings = self.sampling.inputs, self.sampling.settings
        self.dependent = bool(self.sampling.problem.dependences)
        self.notes += [LEFT_OUT] if self.dependent else []
        self.notes += [AS_NORMAL] if self.inputs.copula.tails else []
        self.alone = _independent(self.sampling)

    def _scores(self, columns: int, most: int) -> Array:
        count = crossed_samples(self.settings.samples, self.settings.replicates, most)
        return scores(self.settings.design, count, columns, self.settings.seed + 1, self.settings.replicates)

    def _levels(self, model: Model, z: Array) -> Array:
        """Levels for scores (..., d), shape (...)."""
        rows = self.inputs.values(z).reshape(-1, self.inputs.dimension)
        return model.levels(rows).reshape(z.shape[:-1])

    def of_level(self) -> tuple[sensitivity.Indices | None, sensitivity.Indices | None]:
        """Of every input by itself, and of all surveyed levels together."""
        d, names = self.inputs.dimension, self.inputs.names
        both = self._scores(2 * d, MOST_CROSSED)
        A, B = both[..., :d], both[..., d:]
        tables = _each(sensitivity.blocks(A, B), lambda z: self._levels(self.alone, z))
        surveyed = tuple(j for j, name in enumerate(names) if is_surveyed_level(name))
        if len(surveyed) > 1:
            tables.append(self._levels(self.alone, sensitivity.with_columns(A, B, surveyed)))
        table = self._capped(np.stack(tables, axis=1))
        level = self.attempt("indices of the level", lambda: sensitivity.indices(table[:, : d + 2], names))
        hint = self.attempt(
            "look at far ends of the inputs",
            lambda: tails.unseen_variance(lambda z: self._levels(self.alone, z), names, self.settings.samples),
        )
        self.notes += [hint] if hint else []
        if len(surveyed) < 2 or level is None:
            return level, None
        together = table[:, [0, 1, -1]]
        return level, sensitivity.indices(together, [TOGETHER], dummy=False)

    def of_overtopping(self) -> sensitivity.Indices | None:
        """Of the event, by the threshold method where it can be used, else by counting it in crossed samples."""
        d, ladder = self.inputs.dimension, self.run.ladder
        if ladder is None or d < 2:
            return self.attempt("indices of the event of overtopping", self._counted)
        conditional = Conditional(self.alone, ladder.name, ladder.integrated.sign)
        both = self._scores(2 * (d - 1), MOST_LADDERS)
        A, B = both[..., : d - 1], both[..., d - 1 :]
        tables = _each(
            sensitivity.blocks(A, B), lambda z: conditional.without(z.reshape(-1, d - 1)).reshape(z.shape[:-1])
        )
        return self.attempt(
            "indices of the event of overtopping",
            lambda: target.target_indices(np.stack(tables, axis=1), self.inputs.names, ladder.name),
        )

    def _counted(self) -> sensitivity.Indices:
        d, model = self.inputs.dimension, self.alone
        both = self._scores(2 * d, MOST_CROSSED)

        def over(z: Array) -> Array:
            rows = self.inputs.values(z).reshape(-1, d)
            return overtopping.events(model.levels(rows) - model.banks(rows)).reshape(z.shape[:-1])

        events = _each(sensitivity.blocks(both[..., :d], both[..., d:]), over)
        return sensitivity.indices(np.stack(events, axis=1), self.inputs.names)

    def pairs(self) -> second_order.SecondOrder | None:
        """Of the level, what every two inputs do together, where the study asks for it."""
        if not self.settings.second_order:
            return None
        return self.attempt("second-order indices of the level", self._of_pairs)

    def _of_pairs(self) -> second_order.SecondOrder:
        d = self.inputs.dimension
        if d < 2:
            raise DomainError("only one number is uncertain, and there is no other for it to act together with")
        if self.dependent:
            raise DomainError(
                "the study states a dependence, and where inputs depend on each other what two of them do together "
                "cannot be told from what they share"
            )
        both = self._scores(2 * d, MOST_PAIRED // (2 * d + 2))
        made = second_order.pair_blocks(both[..., :d], both[..., d:])
        tables = _each(made, lambda z: self._levels(self.alone, z))
        return second_order.pair_indices(self._capped(np.stack(tables, axis=1)), self.inputs.names)

    def shapley(self, level: sensitivity.Indices | None) -> shapley.Shapley | None:
        """Of the level, where inputs depend on each other; the weakest inputs share one figure where there are many."""
        names = self.inputs.names
        if not self.dependent:
            return None
        groups = _weakest(names, level)
        A, B = self._halves(groups, MOST_SUBSETS, 16)
        return self.attempt(
            "Shapley effects of the level",
            lambda: shapley.shapley_effects(
                lambda z: self._capped(self._levels(self.sampling.model, z)),
                A,
                B,
                self.inputs.copula.correlation,
                names,
                groups,
            ),
        )

    def shapley_of_event(self, over: sensitivity.Indices | None) -> Shapley | None:
        """Of the event of overtopping, by the threshold method, where inputs depend on each other."""
        names, ladder = self.inputs.names, self.run.ladder
        if not self.dependent or ladder is None:
            return None
        groups = _weakest(names, over)
        A, B = self._halves(groups, MOST_SUBSETS_OF_LADDERS, 8)
        turned = np.ones(len(names))
        turned[ladder.column] = ladder.integrated.sign
        return self.attempt(
            "Shapley effects of the event of overtopping",
            lambda: event_effects.event_effects(
                Conditional(self.sampling.model, ladder.name, ladder.integrated.sign).critical_scores,
                A,
                B,
                self.inputs.copula.correlation * np.outer(turned, turned),
                names,
                ladder.name,
                groups,
            ),
        )

    def _halves(self, groups: dict[str, list[str]], most: int, least: int) -> tuple[Array, Array]:
        """Two independent sets of scores, so many that all subsets together stay under the limit where they can."""
        d = self.inputs.dimension
        players = d if not groups else shapley.MOST_PLAYERS
        wanted = min(most >> players, self.settings.samples // FEWER)
        both = self._scores(2 * d, max(wanted, least * self.settings.replicates))
        return both[..., :d], both[..., d:]

    def given(self) -> given_data.FirstOrder | None:
        """First-order indices of the level from the samples already made, dependence and all."""
        return self.attempt(
            "indices from the samples already made",
            lambda: given_data.first_order(self.sampling.samples.values, self._own_levels(), self.inputs.names),
        )

    def effects(self) -> dict[str, tuple[effects.Effect, ...]]:
        """Mean level, and probability of overtopping, along every input."""
        values, names, ladder = self.sampling.samples.values, self.inputs.names, self.run.ladder
        chances = self.sampling.held(self.run.over.probabilities)
        integrated = None if ladder is None else ladder.name
        found = {
            "level": self.attempt(
                "curves of the level along the inputs",
                lambda: effects.level_given(values, self._own_levels(), names),
            ),
            "overtopping": self.attempt(
                "curves of overtopping along the inputs",
                lambda: effects.overtopping_given(values, chances, names, integrated),
            ),
        }
        return {output: each for output, each in found.items() if each is not None}

    def _own_levels(self) -> Array:
        """Levels at the place of the samples held in full."""
        return self._capped(self.sampling.held(self.sampling.samples.levels))

    def _capped(self, levels: Array) -> Array:
        return self.capped(levels, self.sampling.samples.levels)


def _each(tables: Iterator[Array], find: Callable[[Array], Array]) -> list[Array]:
    """What is found of every table of scores (R, n, d), shape (R, n); small tables are taken together."""
    return [each for some in together(tables) for each in find(some)]


def is_surveyed_level(name: str) -> bool:
    """Whether a number is a level that a survey of the site would settle."""
    return name.endswith(LEVELS) and not name.startswith("tailwater")


def _weakest(names: Sequence[str], found: sensitivity.Indices | None) -> dict[str, list[str]]:
    """The inputs beyond those that can be told apart, by their total indices."""
    if len(names) <= shapley.MOST_PLAYERS or found is None:
        return {}
    strongest = found.table.set_index("input")["total"].drop(sensitivity.DUMMY).nlargest(shapley.MOST_PLAYERS - 1).index
    return {OTHERS: [name for name in names if name not in strongest]}


def _independent(sampling: Sampling) -> Model:
    """The model with all inputs independent."""
    inputs = sampling.inputs
    alone = Inputs(inputs.items, Copula(inputs.names, np.eye(inputs.dimension)))
    return Model(replace(sampling.problem, inputs=alone), sampling.model.runs)


def _tables(found: Drivers) -> Tables:
    """Indices by input and output, and the means along every input; what was refused is missing."""
    return {
        "sensitivity": _indices(found),
        "shapley_effects": _shapley(found),
        "sensitivity_of_samples": None if found.given is None else found.given.table,
        "effects": _effects(found),
        "second_order": None if found.pairs is None else found.pairs.table,
    }


def _indices(found: Drivers) -> pd.DataFrame:
    """Sobol' indices of the level and of the event of overtopping, one row an input and output."""
    known = {"level": found.level, "level, grouped": found.groups, "overtopping": found.overtopping}
    tables = [_of_output(output, indices) for output, indices in known.items() if indices is not None]
    return pd.concat(tables, ignore_index=True) if tables else pd.DataFrame(columns=["output", "input"])


def _shapley(found: Drivers) -> pd.DataFrame | None:
    """Shapley effects of the level and of the event, one row an input and output; None where there are none."""
    known = {"level": found.shapley, "overtopping": found.shapley_of_event}
    tables = [_of_output(output, each) for output, each in known.items() if each is not None]
    return pd.concat(tables, ignore_index=True) if tables else None


def _of_output(output: str, indices: Indices | Shapley) -> pd.DataFrame:
    table = indices.table.copy()
    table.insert(0, "output", output)
    return table


def _effects(found: Drivers) -> pd.DataFrame | None:
    """Mean level and probability of overtopping along every input; None where both were refused."""
    parts = [each.table().assign(output=output) for output, along in found.effects.items() for each in along]
    return pd.concat(parts, ignore_index=True) if parts else None


OUTPUT = Output(find=_find, stage="ranking what drives the level", tables=_tables)
