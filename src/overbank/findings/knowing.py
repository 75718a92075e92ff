"""What drives the answers, what surveys are worth, and what floods seen teach."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from overbank.analysis.effects import Effect
from overbank.analysis.given_data import FirstOrder
from overbank.analysis.information import Choice as Decision
from overbank.analysis.information import Worth
from overbank.analysis.intervals import Estimate
from overbank.analysis.second_order import SecondOrder
from overbank.analysis.sensitivity import Indices
from overbank.analysis.shapley import Shapley
from overbank.analysis.survey import Narrowing

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Drivers:
    """What drives the level and the overtopping; a part that was refused is None and the notes say why.

    level, overtopping : Sobol' indices of the level and of the event, all inputs taken as independent
    groups : of the level, inputs taken together; None where there are none to take together
    pairs : of the level, what every two inputs do together; None where the study does not ask for it
    shapley : of the level, where inputs depend on each other, else None
    given : first-order indices of the level from the run's own samples, dependence and all
    effects : "level" and "overtopping" -> their mean along every input
    """

    level: Indices | None
    overtopping: Indices | None
    groups: Indices | None
    pairs: SecondOrder | None
    shapley: Shapley | None
    given: FirstOrder | None
    effects: dict[str, tuple[Effect, ...]]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Swing:
    """One input at its 10 % and its 90 % quantile, every other one at its median.

    values : of the input; levels : at the place [m]; changes : from the level with every input at its median [m]
    """

    name: str
    values: tuple[float, float]
    levels: tuple[float, float]
    changes: tuple[float, float]


@dataclass(frozen=True)
class WorthOfKnowing:
    """What it would be worth in money to know more before deciding.

    loss, cost : what overtopping in the design flood loses, and what acting costs so that it does not happen [money]
    decision : the better choice with what is known today, and the worth of knowing every input
    surveys : worth of the result of each survey on offer
    inputs : worth of knowing each input exactly, the most that a survey of it should ever cost
    """

    loss: float
    cost: float
    decision: Decision
    surveys: tuple[Worth, ...]
    inputs: tuple[Worth, ...]


@dataclass(frozen=True)
class Surveys:
    """Which survey would be worth its cost.

    narrowings : what each survey on offer would narrow, the one that narrows the level most for its cost first
    worth : None where the study says nothing of money, or where it was refused
    notes : what was refused, and what a reader must know
    """

    narrowings: tuple[Narrowing, ...]
    worth: WorthOfKnowing | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class SeenFlood:
    """A flood that was seen.

    name, place : of the observation, and the element upstream of which the level was seen
    flow : in words; level, sd : seen, and the standard deviation of its error [m]
    foretold : share -> its quantile of the levels that the study foretells for that flood [m]
    """

    name: str
    place: str
    flow: str
    level: float
    sd: float
    foretold: dict[float, float]


@dataclass(frozen=True)
class BeforeAndAfter:
    """A figure before and after the floods that were seen, both from the same weighted samples."""

    prior: Estimate
    posterior: Estimate


@dataclass(frozen=True)
class Taught:
    """What the floods seen make of the samples.

    weights : of each sample, shape (R, N), sum 1; effective : samples of equal weight that would tell as much
    chances : of each observation: probability, before it was made, of one at least as far out
    failed : samples without a level for some observation
    inputs : a row an input, prior beside posterior
    level : not exceeded with the assurance asked for in the design flood [m]
    probability : of overtopping in the design flood
    """

    weights: Array
    effective: float
    chances: tuple[float, ...]
    failed: int
    inputs: pd.DataFrame
    level: BeforeAndAfter
    probability: BeforeAndAfter


@dataclass(frozen=True)
class LearntFromFloods:
    """What the floods that were seen teach.

    taught : None where it was refused, and `refusal` says why
    anew : inputs that come out anew in each flood, about which nothing is learnt
    notes : what a reader must know
    """

    seen: tuple[SeenFlood, ...]
    taught: Taught | None
    refusal: str
    anew: tuple[str, ...]
    notes: tuple[str, ...]
