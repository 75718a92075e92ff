"""A formula for the level of a run: polynomial chaos fitted to the site, and held against the run's own figures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from overbank.analysis import surrogate
from overbank.analysis.sensitivity import DUMMY
from overbank.errors import DomainError
from overbank.model import Model
from overbank.outputs.outcome import Outcome
from overbank.sampling.refused import RefusedParts
from overbank.sampling.samples import Array
from overbank.uncertain.designs import scores

SAMPLES, DESIGNS = 2**13, 4
"""Samples of the formula, in so many designs, the last of which is kept back to try it on."""

TRIED = 2**12
"""Samples with the dependence of the study on which the formula is tried as well."""


@dataclass(frozen=True)
class LevelFormula:
    """The level upstream of the place as a formula in the normal scores of the inputs.

    fitted : the formula, its error on unseen samples and its indices
    q2 : share of the variance of unseen samples that it foretells, all inputs independent
    q2_as_stated : the same with the dependence that the study states
    indices : a row an input: input, first, total of the formula; run_first, run_total with their intervals
    note : what a reader must know; empty where there is nothing
    """

    fitted: surrogate.Surrogate
    q2: float
    q2_as_stated: float
    indices: pd.DataFrame
    note: str

    def formula(self, terms: int = 8) -> str:
        """In plain text, the largest terms first."""
        return self.fitted.formula("level [m]", terms)


def fit_surrogate(outcome: Outcome, order: int = 3) -> LevelFormula:
    """Fit a polynomial to the level upstream of the place, as a second route to the indices and to print.

    It is fitted to the site with all inputs independent, so that its indices stand beside the run's own. As a function
    of the inputs it holds for dependent ones too: `q2_as_stated` tells how well. It smooths over changes of regime, so
    no answer of a run rests on it.

    Parameters
    ----------
    outcome : of `run_study`
    order : greatest degree of a term, 1 or more; of order p in d inputs there are (d + p)! / (d! p!) terms

    Returns
    -------
    LevelFormula, with the error on samples that the fit has not seen.

    Raises
    ------
    DomainError : too many terms for 8192 samples; no run gave a level; a level that does not vary; more than 1 % of
        failed runs

    Examples
    --------
    >>> found = overbank.fit_surrogate(outcome, order=2)
    >>> 0.0 < found.q2 < 1.0
    True
    """
    inputs, seed = outcome.problem.inputs, outcome.study.content.run.seed
    model, names = Model(outcome.problem), inputs.names
    if not np.isfinite(outcome.samples.levels).any():
        raise DomainError("surrogate: no run gave a level. Look at `overbank check` first")

    noted = RefusedParts()

    def level(z: Array) -> Array:
        return noted.capped(model.levels(inputs.values(z)), outcome.samples.levels)

    z = scores("sobol", SAMPLES, inputs.dimension, seed + 5, DESIGNS).reshape(-1, inputs.dimension)
    fitted = surrogate.fit(z, level(z), names, order)
    dependent = inputs.sample("latin_hypercube", TRIED, seed + 6, 1)[0][0]
    true = level(dependent)
    missed = np.nanmean((true - fitted.predict(dependent)) ** 2)
    q2_as_stated = float(1.0 - missed / np.nanvar(true))
    return LevelFormula(fitted, fitted.q2, q2_as_stated, _beside(fitted, outcome), " ".join(noted.notes))


def _beside(fitted: surrogate.Surrogate, outcome: Outcome) -> pd.DataFrame:
    """Indices of the formula beside those of the run, where it has any."""
    own = None if outcome.drivers is None else outcome.drivers.level
    if own is None:
        return fitted.indices
    kept = own.table[own.table["input"] != DUMMY]
    return fitted.indices.merge(
        kept.rename(columns={name: f"run_{name}" for name in kept.columns if name != "input"}), on="input"
    )
