"""What a run has found: every figure with its interval and the method that gave it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from overbank.analysis.bands import Curve
from overbank.analysis.convergence import Verdict
from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability
from overbank.analysis.sensitivity import Indices
from overbank.site.row import SiteOutcome
from overbank.site.validity import Remark
from overbank.study.build import Problem
from overbank.study.load import Study

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Overtopping:
    """Probability of going over the bank in the design flood, by two methods.

    threshold : by the threshold method; None when no input can be integrated out
    plain : by counting samples
    agree : whether their intervals overlap
    stair : name of the input that the threshold method integrates out
    fallen : samples in which the level fell as that input rose; the plain count stands in for them
    """

    threshold: Probability | None
    plain: Probability
    agree: bool
    stair: str | None
    fallen: int

    @property
    def best(self) -> Probability:
        """The figure to quote."""
        return self.plain if self.threshold is None else self.threshold


@dataclass(frozen=True)
class Place:
    """A structure that has a bank: probability of going over it, and share of all overtopping in which it is first."""

    id: str
    probability: Probability
    first: Estimate


@dataclass(frozen=True)
class Places:
    """Overtopping at every place that has a bank, at any of them, and at all of them."""

    each: tuple[Place, ...]
    any: Probability
    all: Probability


@dataclass(frozen=True)
class Headwater:
    """Exceedance of the level upstream of the place: smooth curve, plain curve, and quantiles.

    quantiles : non-exceedance probability -> level [m]
    """

    curve: Curve
    plain: Curve
    quantiles: dict[float, Estimate]


@dataclass(frozen=True)
class Blockage:
    """What blockage does.

    name : of the input
    fixed : P(overtop) with the blockage set, all else as sampled
    given : P(overtop) given the blockage; differs from `fixed` where blockage depends on other inputs, else None
    largest : largest blockage that keeps P(overtop) within the target
    allowance : the single blockage that reproduces the headwater of the chosen assurance in a deterministic run
    """

    name: str
    fixed: Curve
    given: Curve | None
    largest: Estimate
    allowance: Estimate


@dataclass(frozen=True)
class Drivers:
    """Sobol' indices of the level, and of the event of overtopping (None with the reason in words)."""

    level: Indices | None
    overtopping: Indices | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Samples:
    """The sampled inputs [R, N, d] and what the site made of them.

    levels, margins : upstream of the place, and that level minus the bank [m]; shape (R, N)
    """

    values: Array
    site: SiteOutcome
    levels: Array
    margins: Array


@dataclass(frozen=True)
class Outcome:
    """Everything a run has found."""

    study: Study
    problem: Problem
    place: str
    deterministic: SiteOutcome
    samples: Samples
    overtopping: Overtopping
    places: Places
    headwater: Headwater
    blockage: Blockage | None
    drivers: Drivers
    remarks: tuple[Remark, ...]
    verdicts: dict[str, Verdict]
    runs: int
    seconds: dict[str, float]

    @property
    def target(self) -> float:
        """Accepted probability of overtopping in the design flood."""
        return self.study.content.decision.target_probability

    @property
    def assurance(self) -> float:
        """Probability with which allowance and bank level shall hold."""
        return self.study.content.decision.assurance

    def sample_table(self) -> pd.DataFrame:
        """One row a sample: its inputs, then the level, bank, margin and regime at every structure."""
        names = self.problem.inputs.names
        values = self.samples.values.reshape(-1, len(names))
        columns: dict[str, Array] = {name: values[:, j] for j, name in enumerate(names)}
        columns["tailwater.level_m"] = np.asarray(self.samples.site.tailwater)
        for element in self.samples.site.elements:
            columns[f"{element.id}.level_m"] = element.level
            if element.bank_level is not None:
                columns[f"{element.id}.margin_m"] = element.level - element.bank_level
            columns[f"{element.id}.regime"] = element.results["regime"]
        table = pd.DataFrame(columns)
        table.insert(0, "replicate", np.repeat(np.arange(self.samples.values.shape[0]), self.samples.values.shape[1]))
        return table
