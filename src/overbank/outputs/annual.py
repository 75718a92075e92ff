"""The floods of a year: overtopping in a year, over the design life, and in the flood of each annual probability."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtri

from overbank.analysis import annual, inner, intervals, ladder, overtopping
from overbank.analysis.annual import LevelFrequency, return_period
from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability
from overbank.outputs.in_tables import figure
from overbank.outputs.output import Output, Tables
from overbank.sampling.ladder import is_blockage
from overbank.sampling.nested import NestedFloods, nested_floods, of_debris
from overbank.sampling.rare_floods import OverYears, is_rare, rare_floods
from overbank.sampling.run import Run
from overbank.sampling.samples import Array, Sampling
from overbank.study.annual import AnnualFloods
from overbank.uncertain.likely_floods import LikelyFit

PROBABILITIES = (0.5, 0.2, 0.1, 0.05, 0.04, 0.02, 0.01, 0.005, 0.002, 0.001)
"""Annual probabilities whose floods are always looked at."""

YEARS = (10, 30, 50)
"""Over so many years authorities print the probability of at least one overtopping (ER 1105-2-101; contents read)."""

LEVELS = 80
"""Levels of the frequency curve."""


@dataclass(frozen=True)
class FloodLine:
    """The flood of one annual probability, and the level in it.

    flow : by the best estimate of the annual maxima; flow_low, flow_high : 5 and 95 % of its alternatives [m3/s]
    levels : share -> level in that flood that is not exceeded with it [m]
    assurance : probability that the water stays below the bank in that flood; each : of every replicate
    """

    annual_probability: float
    flow: float
    flow_low: float
    flow_high: float
    levels: dict[float, Estimate]
    assurance: Probability
    each: Array


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
    over : years -> probability of at least one overtopping in so many
    life : of them the design life; None where the study names none
    lines : floods from frequent to rare
    frequency : annual probability of every level
    states, floods_of_each : states of knowledge sampled, and floods in each of them
    each_state, inner : annual probability in each state, and the variance of its inner error (R, S)
    known : normal scores of the knowledge in the states whose levels are kept (`frequency.each`), (R, S, k)
    known_floods : logarithm of the flood by which their flood distributions are ranked (R, S)
    """

    given: AnnualFloods
    probability: Probability
    plain: Probability
    agree: bool
    fallen: int
    knowledge: dict[float, Estimate]
    unblocked: Unblocked | None
    over: dict[int, Probability]
    life: OverYears | None
    lines: tuple[FloodLine, ...]
    frequency: LevelFrequency
    states: int
    floods_of_each: int
    each_state: Array
    inner: Array
    known: Array
    known_floods: Array


def annual_floods(sampling: Sampling, given: AnnualFloods) -> Annual:
    """From samples in two loops; a probability too rare for them by importance sampling."""
    nested = nested_floods(sampling, given)
    design = sampling.study.content.flow.design_annual_probability
    wanted = sorted({*PROBABILITIES, *(() if design is None else (design,))}, reverse=True)
    lines = tuple(_line(nested, probability) for probability in wanted)
    grid = _grid(lines, nested)
    seen = _seen(nested, grid, blocked=True)
    best, rarer, life = annual.expected(seen.states, seen.beyond), None, given.life_years
    many = sorted({*YEARS, *(() if life is None else (life,))})
    if is_rare(best):
        seen = _seen(nested, grid, blocked=True, further=True)
        best, rarer = annual.expected(seen.states, seen.beyond), rare_floods(sampling, given, many)
    if rarer is None:
        over = {years: annual.over_years(seen.states, years, seen.variance) for years in many}
    else:
        best, over = rarer.probability, rarer.over
    plain = annual.counted(seen.depths, nested.weights)
    return Annual(
        given=given,
        probability=best,
        plain=plain,
        agree=overtopping.agree(best, plain),
        fallen=seen.fallen,
        knowledge=annual.over_knowledge(seen.states, seen.variance),
        unblocked=_unblocked(nested, grid, seen.states),
        over=over,
        life=None if life is None else OverYears(life, over[life]),
        lines=lines,
        frequency=seen.frequency,
        states=seen.states.size,
        floods_of_each=nested.z.shape[2],
        each_state=seen.states,
        inner=seen.variance,
        known=nested.z[:, : annual.EACH, 0, : len(given.knowledge)],
        known_floods=np.log(given.floods.ranking[nested.chosen[:, : annual.EACH]]),
    )


@dataclass(frozen=True)
class _Seen:
    """What the floods of all states show.

    states, variance : annual probability of each state, and of its inner error (R, S)
    beyond : the same had every flood beyond the ladder gone over (R, S)
    depths : in sampled floods [m] (R, S, M)
    frequency : of the levels
    """

    states: Array
    variance: Array
    beyond: Array
    depths: Array
    frequency: annual.LevelFrequency
    fallen: int


def _seen(nested: NestedFloods, grid: Array, blocked: bool, further: bool = False) -> _Seen:
    """The annual probabilities, with the floods' blockages or with nothing blocked.

    Where only debris differs between the floods of a state, unblocked they are all alike and one of them will do.
    """
    alike = not blocked and all(map(of_debris, nested.given.each_flood))
    z = nested.z[:, :, :1] if alike else nested.z
    weights, shifts = (np.ones(z.shape[:-1]), None) if alike else (nested.weights, nested.shifts)
    flows = nested.ladder(z, blocked, further)
    rows, shape = nested.rows(z), z.shape[:-1]
    own = nested.levels(rows, nested.given.floods.flows(z[..., -1], nested.chosen).ravel(), blocked).reshape(shape)
    depths = own - nested.banks(rows).reshape(shape)
    trusted = ~np.isnan(flows.capacity)
    top = np.where(np.isposinf(flows.capacity), nested.nodes(further)[-1], flows.capacity)
    mended = ladder.mend(nested.above(flows, flows.capacity), trusted, depths)
    beyond = ladder.mend(nested.above(flows, top), trusted, depths)
    frequency = annual.level_frequency(
        nested.nodes(further),
        flows.levels,
        grid,
        lambda flow: nested.above(flows, flow),
        (own, trusted),
        weights,
        shifts,
    )
    states, variance = inner.told(mended.probabilities, weights, shifts)
    unseen = inner.by_state(beyond.probabilities - mended.probabilities, weights)
    return _Seen(
        states=states,
        variance=variance,
        beyond=states + unseen,
        depths=depths,
        frequency=frequency,
        fallen=mended.replaced,
    )


def _unblocked(nested: NestedFloods, grid: Array, states: Array) -> Unblocked | None:
    """The same with nothing blocked; None where nothing ever is."""
    problem = nested.sampling.problem
    certain = {name: number for name, number in problem.fixed.items() if is_blockage(name)}
    if not any(map(is_blockage, problem.inputs.names)) and not any(certain.values()):
        return None
    clean = _seen(nested, grid, blocked=False)
    times = annual.times_as_likely(states, clean.states)
    return Unblocked(annual.expected(clean.states, clean.beyond), times, clean.frequency)


def _line(nested: NestedFloods, probability: float) -> FloodLine:
    """Flow, level and assurance in the flood of an annual probability.

    What goes with a flood takes the values that it has in a flood as rare as this one (`Copula.moved`).
    """
    floods, (levels, depths) = nested.given.floods, in_flood(nested, probability)
    table, weights = (each.reshape(len(levels), -1) for each in (levels, nested.weights))
    low, high = np.quantile(floods.flood(probability), [0.05, 0.95])
    return FloodLine(
        annual_probability=probability,
        flow=float(floods.best.value(-float(ndtri(probability)))),
        flow_low=float(low),
        flow_high=float(high),
        levels={share: intervals.weighted_quantile(table, weights, share) for share in annual.SHARES},
        assurance=annual.assurance(depths, nested.weights),
        each=np.nanmean(annual.stays_below(depths, nested.weights), axis=1),
    )


def in_flood(nested: NestedFloods, probability: float) -> tuple[Array, Array]:
    """Levels and depths over the bank in the flood of an annual probability [m], (R, S, M)."""
    floods, copula = nested.given.floods, nested.given.copula
    score, shape = -float(ndtri(probability)), nested.z.shape[:-1]
    rows = nested.rows(copula.moved(nested.z, len(copula.names) - 1, score)[..., :-1])
    flow = floods.flows(np.full(shape, score), nested.chosen)
    levels = nested.levels(rows, flow.ravel())
    return levels.reshape(shape), (levels - nested.banks(rows)).reshape(shape)


def _grid(lines: tuple[FloodLine, ...], nested: NestedFloods) -> Array:
    """Levels of the frequency curve [m]: those of the floods looked at, and the median bank."""
    bank = float(np.median(nested.banks(nested.rows(nested.z[:, :, :1]))))
    found = np.array([level.value for line in lines for level in line.levels.values()])
    ends = np.array([*found[np.isfinite(found)], bank])
    room = 0.02 * max(float(np.ptp(ends)), 0.01)
    return np.unique([*np.linspace(ends.min() - room, ends.max() + room, LEVELS), bank])


def _find(run: Run) -> Annual | None:
    """None where the study gives no annual maxima."""
    given = run.model.problem.annual
    if given is None:
        return None
    run.report("looking at the floods of a year")
    return annual_floods(run.sampling, given)


def _summary(found: Annual) -> dict[str, Any]:
    """Annual probability of overtopping and what belongs to it."""
    unblocked, life = found.unblocked, found.life
    said = {
        "annual_maxima": found.given.floods.words,
        "probability_of_overtopping": {
            "threshold_method": figure(found.probability),
            "plain_count": figure(found.plain),
            "agree": found.agree,
            "samples_where_the_level_fell": found.fallen,
        },
        "years_between_overtoppings": figure(return_period(found.probability)),
        "quantiles_over_what_is_not_known": {f"{q:g}": figure(e) for q, e in found.knowledge.items()},
        "with_nothing_blocked": None if unblocked is None else figure(unblocked.probability),
        "times_as_likely_as_with_nothing_blocked": None if unblocked is None else figure(unblocked.times),
        "over_years": None if life is None else {"years": life.years, **figure(life.probability)},
        "assurance": {f"{line.annual_probability:g}": figure(line.assurance) for line in found.lines},
        "anew_in_each_flood": list(found.given.each_flood),
        "the_same_in_all_floods": list(found.given.knowledge),
        "states_of_knowledge": found.states,
        "floods_in_each_state": found.floods_of_each,
    }
    return {"floods_of_a_year": said}


def _tables(found: Annual) -> Tables:
    """Floods by annual probability; annual probability of each level; the annual maxima where a fit was made."""
    lines = pd.DataFrame(
        {
            **{"annual_probability": line.annual_probability, "flow_m3_s": line.flow},
            **{"flow_5_m3_s": line.flow_low, "flow_95_m3_s": line.flow_high},
            **{f"level_{100 * share:g}_m": level.value for share, level in line.levels.items()},
            **{"assurance": line.assurance.value, "low": line.assurance.low, "high": line.assurance.high},
        }
        for line in found.lines
    )
    levels = found.frequency.expected.table("level_m").assign(
        **{f"knowledge_{100 * share:g}": values for share, values in found.frequency.knowledge.items()}
    )
    if found.unblocked is not None:
        levels["with_nothing_blocked"] = found.unblocked.frequency.expected.probability
    tables = {"floods": lines, "level_frequency": levels}
    fit = found.given.floods.fit
    if fit is not None:
        maxima = {"flow_m3_s": fit.maxima, "plotted_at_annual_probability": fit.plotting_positions}
        tables["annual_maxima"] = pd.DataFrame(maxima)
    if isinstance(fit, LikelyFit):
        tables["flood_families"] = pd.DataFrame(
            {
                **{"family": each.name, "weight": each.weight, "log_likelihood": each.log_likelihood},
                **{f"flow_{p:g}_m3_s": float(each.best.quantile(1.0 - p)) for p in PROBABILITIES},
            }
            for each in fit.families
        )
    return tables


OUTPUT = Output(find=_find, tables=_tables, summary=_summary)
