"""What a run has found: every figure with its interval and the method that gave it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from overbank.analysis.annual import LevelFrequency
from overbank.analysis.automatic import Search
from overbank.analysis.bands import Curve
from overbank.analysis.convergence import Verdict
from overbank.analysis.effects import Effect
from overbank.analysis.given_data import FirstOrder
from overbank.analysis.information import Choice as Decision
from overbank.analysis.information import Worth
from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability
from overbank.analysis.pilot import Choice
from overbank.analysis.sensitivity import Indices
from overbank.analysis.shapley import Shapley
from overbank.analysis.survey import Narrowing
from overbank.decision import Panel, Readings
from overbank.site.influence import Influence
from overbank.site.row import SiteOutcome
from overbank.site.validity import Remark
from overbank.study.annual import AnnualFloods
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
    choice : what the pilot says of every input that could be; None where there is none
    fallen : samples in which the level fell as that input rose; the plain count stands in for them
    beyond : what the samples themselves cannot show: by importance sampling where overtopping is too rare for them,
        exactly 0 or 1 where the ranges of the inputs say so; else None
    """

    threshold: Probability | None
    plain: Probability
    agree: bool
    stair: str | None
    fallen: int
    beyond: Probability | None = None
    choice: Choice | None = None

    @property
    def best(self) -> Probability:
        """The figure to quote."""
        if self.beyond is not None:
            return self.beyond
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
class FloodLine:
    """The flood of one annual probability, and the level in it.

    flow : by the best estimate of the annual maxima; flow_low, flow_high : 5 and 95 % of its alternatives [m3/s]
    levels : share -> level in that flood that is not exceeded with it [m]
    assurance : probability that the water stays below the bank in that flood
    """

    annual_probability: float
    flow: float
    flow_low: float
    flow_high: float
    levels: dict[float, Estimate]
    assurance: Probability


@dataclass(frozen=True)
class OverYears:
    """Probability of at least one overtopping in so many years."""

    years: int
    probability: Probability


@dataclass(frozen=True)
class Unblocked:
    """Overtopping in a year with nothing blocked, how many times as likely it is with the blockages, and the levels."""

    probability: Probability
    times: Estimate
    frequency: LevelFrequency


@dataclass(frozen=True)
class Annual:
    """Overtopping by the floods of a year.

    given : the floods, and which numbers are knowledge and which come out anew in each flood
    probability, plain : of overtopping in a year, by the threshold method over the flow and by counting floods
    agree : whether their intervals overlap
    fallen : samples in which the level fell as the flow rose; the plain count stands in for them
    knowledge : share -> its quantile of the annual probability over what is not known
    unblocked : None where nothing is ever blocked
    life : None where the study names no years
    lines : floods from frequent to rare
    frequency : annual probability of every level
    states, floods_of_each : states of knowledge sampled, and floods in each of them
    """

    given: AnnualFloods
    probability: Probability
    plain: Probability
    agree: bool
    fallen: int
    knowledge: dict[float, Estimate]
    unblocked: Unblocked | None
    life: OverYears | None
    lines: tuple[FloodLine, ...]
    frequency: LevelFrequency
    states: int
    floods_of_each: int


@dataclass(frozen=True)
class CheckedFigure:
    """A usual design check of an element: a figure, what is asked of it, and how likely it is to be less.

    name, words, unit : of the figure; the unit is "m", or empty for a ratio
    asked : what it is set against; asked_by : "study", "default" where the study asks for nothing, empty where nobody
        asks but the figure has a natural measure
    certain : the figure with every uncertain number at its median; `-inf` where there is no way through
    below : P(figure < asked); negative : P(figure < 0), None for a ratio
    """

    element: str
    name: str
    words: str
    unit: str
    asked: float
    asked_by: str
    certain: float
    below: Probability
    negative: Probability | None


@dataclass(frozen=True)
class CheckedBarrels:
    """How the barrels of a culvert flow, in words: with every number at its median, and as shares of the samples."""

    element: str
    certain: str
    shares: dict[str, Probability]


@dataclass(frozen=True)
class Checks:
    """The usual design checks: figures, not verdicts."""

    figures: tuple[CheckedFigure, ...]
    barrels: tuple[CheckedBarrels, ...]


@dataclass(frozen=True)
class PeopleFigure:
    """A figure about people at a culvert in the design flood.

    side : "screen" or "barrel"; name, words, unit : of the figure
    certain : with every uncertain number at its median
    quantiles : share -> value not exceeded with it; `inf` where nothing flows through or there is no way through
    """

    side: str
    name: str
    words: str
    unit: str
    certain: float
    quantiles: dict[float, Estimate]


@dataclass(frozen=True)
class Hazard:
    """Published hazard of the water at one place, as shares of all samples; what is left of 1 is dry.

    wet : P(water there)
    rating : share -> hazard rating not exceeded with it, dry samples counted as 0
    ratings, general : id of a class of the hazard rating, and of the general classes -> its share
    """

    place: str
    wet: Probability
    rating: dict[float, Estimate]
    ratings: dict[str, Probability]
    general: dict[str, Probability]


@dataclass(frozen=True)
class RakingFacts:
    """What is known of raking the bars by hand; None where the study does not say it.

    inclination_deg, height_m : of the screen at the medians; along_bars_m : its length along the bars
    platform_level_m : to rake from; to_foot_m : from there down along the bars to their foot
    rake_length_m : how far a rake reaches; cross_bars : whether bars run across
    platform_wet : P(the water before the screen stands above the platform)
    """

    inclination_deg: float
    height_m: float
    along_bars_m: float
    platform_level_m: float | None
    to_foot_m: float | None
    rake_length_m: float | None
    cross_bars: bool | None
    platform_wet: Probability | None


@dataclass(frozen=True)
class People:
    """People at one culvert in the design flood: figures, never verdicts.

    figures : on the screen, where there is one, and in the barrel
    full : P(no air at some point along the barrel)
    raking : None without a screen
    land_use, edition : that the hazard rating stands on
    taken : what is taken of people, each in words with its basis
    """

    element: str
    figures: tuple[PeopleFigure, ...]
    full: Probability
    hazards: tuple[Hazard, ...]
    raking: RakingFacts | None
    land_use: str
    edition: str
    taken: dict[str, str]


@dataclass(frozen=True)
class Difference:
    """An arrangement less the site as it stands, on common random numbers.

    probability : of overtopping; assured, mean : of the level with the assurance asked for, and on average [m]
    lower, higher : shares of the samples in which it stands lower or higher by more than a millimetre
    """

    probability: Estimate
    assured: Estimate
    mean: Estimate
    lower: Estimate
    higher: Estimate


@dataclass(frozen=True)
class Arrangement:
    """The site as it stands, or as an alternative changes it.

    deterministic : level with every uncertain number at its median [m]
    assured : level with the assurance asked for
    difference : to the site as it stands; None for that itself
    """

    name: str
    place: str
    deterministic: float
    overtopping: Overtopping
    curve: Curve
    assured: Estimate
    blockage: Blockage | None
    difference: Difference | None


@dataclass(frozen=True)
class Comparison:
    """Arrangements at one place, the site as it stands first."""

    place: str
    arrangements: tuple[Arrangement, ...]


@dataclass(frozen=True)
class Drivers:
    """What drives the level and the overtopping; a part that was refused is None and the notes say why.

    level, overtopping : Sobol' indices of the level and of the event, all inputs taken as independent
    groups : of the level, inputs taken together; None where there are none to take together
    shapley : of the level, where inputs depend on each other, else None
    given : first-order indices of the level from the run's own samples, dependence and all
    effects : "level" and "overtopping" -> their mean along every input
    """

    level: Indices | None
    overtopping: Indices | None
    groups: Indices | None
    shapley: Shapley | None
    given: FirstOrder | None
    effects: dict[str, tuple[Effect, ...]]
    notes: tuple[str, ...]


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
    readings: Readings | None
    panel: Panel | None
    comparison: Comparison | None
    annual: Annual | None
    drivers: Drivers
    surveys: Surveys | None
    learnt: LearntFromFloods | None
    automatic: Search | None
    checks: Checks
    people: tuple[People, ...]
    influences: tuple[Influence, ...]
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
        """One row a sample: its inputs, then the level, bank, margin and regime at every structure.

        Where floods were seen, the last column is the weight that they give to the sample; the weights sum to 1.
        """
        names = self.problem.inputs.names
        values = self.samples.values.reshape(-1, len(names))
        columns: dict[str, Array] = {name: values[:, j] for j, name in enumerate(names)}
        columns["tailwater.level_m"] = np.asarray(self.samples.site.tailwater)
        for element in self.samples.site.elements:
            columns[f"{element.id}.level_m"] = element.level
            if element.bank_level is not None:
                columns[f"{element.id}.margin_m"] = element.level - element.bank_level
            columns[f"{element.id}.regime"] = element.results["regime"]
        if self.learnt is not None and self.learnt.taught is not None:
            columns["weight"] = self.learnt.taught.weights.ravel()
        table = pd.DataFrame(columns)
        table.insert(0, "replicate", np.repeat(np.arange(self.samples.values.shape[0]), self.samples.values.shape[1]))
        return table
