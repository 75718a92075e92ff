"""The floods of a year: overtopping in a year, over the design life, and in the flood of each annual probability."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from overbank.analysis import annual, intervals, ladder, overtopping
from overbank.findings.years import Annual, FloodLine, OverYears, Unblocked
from overbank.stages.climbing import is_blockage
from overbank.stages.nested import NestedFloods, nested_floods, of_debris
from overbank.stages.sampling import Array, Sampling

PROBABILITIES = (0.5, 0.2, 0.1, 0.05, 0.04, 0.02, 0.01, 0.005, 0.002, 0.001)
"""Annual probabilities whose floods are always looked at."""

LEVELS = 80
"""Levels of the frequency curve."""


def annual_floods(sampling: Sampling) -> Annual | None:
    """None where the study gives no annual maxima."""
    given = sampling.problem.annual
    if given is None:
        return None
    nested = nested_floods(sampling, given)
    design = sampling.study.content.flow.design_annual_probability
    wanted = sorted({*PROBABILITIES, *(() if design is None else (design,))}, reverse=True)
    lines = tuple(_line(nested, probability) for probability in wanted)
    grid = _grid(lines, nested)
    seen = _seen(nested, grid, blocked=True)
    best, plain = annual.expected(seen.states), annual.counted(seen.margins)
    life = given.life_years
    return Annual(
        given=given,
        probability=best,
        plain=plain,
        agree=overtopping.agree(best, plain),
        fallen=seen.fallen,
        knowledge=annual.over_knowledge(seen.states),
        unblocked=_unblocked(nested, grid, seen.states),
        life=None if life is None else OverYears(life, annual.over_years(seen.states, life)),
        lines=lines,
        frequency=seen.frequency,
        states=seen.states.size,
        floods_of_each=nested.z.shape[2],
    )


@dataclass(frozen=True)
class _Seen:
    """Annual probability of each state (R, S), margins in sampled floods [m] (R, S, M), frequency of the levels."""

    states: Array
    margins: Array
    frequency: annual.LevelFrequency
    fallen: int


def _seen(nested: NestedFloods, grid: Array, blocked: bool) -> _Seen:
    """The annual probabilities, with the floods' blockages or with nothing blocked.

    Where only debris differs between the floods of a state, unblocked they are all alike and one of them will do.
    """
    alike = not blocked and all(map(of_debris, nested.given.each_flood))
    z = nested.z[:, :, :1] if alike else nested.z
    climbed = nested.climb(z, blocked)
    rows, shape = nested.rows(z), z.shape[:-1]
    own = nested.levels(rows, nested.given.floods.flows(z[..., -1], nested.chosen).ravel(), blocked).reshape(shape)
    margins = own - nested.banks(rows).reshape(shape)
    trusted = ~np.isnan(climbed.capacity)

    def probability(flow: Array, mean: Array) -> Array:
        return annual.exceedance(nested.given.floods.scores_below(flow, nested.chosen), mean, climbed.spread)

    mended = ladder.mend(probability(climbed.capacity, climbed.mean), trusted, margins)
    frequency = annual.level_frequency(
        nested.nodes(),
        climbed.levels,
        grid,
        lambda flow: probability(flow, climbed.mean[..., np.newaxis]),
        (own, trusted),
    )
    return _Seen(annual.by_state(mended.probabilities), margins, frequency, mended.replaced)


def _unblocked(nested: NestedFloods, grid: Array, states: Array) -> Unblocked | None:
    """The same with nothing blocked; None where nothing ever is."""
    problem = nested.sampling.problem
    certain = {name: number for name, number in problem.fixed.items() if is_blockage(name)}
    if not any(map(is_blockage, problem.inputs.names)) and not any(certain.values()):
        return None
    clean = _seen(nested, grid, blocked=False)
    times = annual.times_as_likely(states, clean.states)
    return Unblocked(annual.expected(clean.states), times, clean.frequency)


def _line(nested: NestedFloods, probability: float) -> FloodLine:
    """Flow, level and assurance in the flood of an annual probability.

    What goes with a flood takes the values that it has in a flood as rare as this one: given the flood's normal score
    its own moves by the correlation times the change of the flood's.
    """
    floods, correlation = nested.given.floods, nested.given.copula.correlation[-1, :-1]
    score = -float(ndtri(probability))
    moved = (score - nested.z[..., -1:]) * correlation
    rows = nested.rows(nested.z[..., :-1] + moved)
    shape = nested.z.shape[:-1]
    flow = floods.flows(np.full(shape, score), nested.chosen)
    levels = nested.levels(rows, flow.ravel())
    margins = (levels - nested.banks(rows)).reshape(shape)
    table = levels.reshape(shape[0], -1)
    low, high = np.quantile(floods.flood(probability), [0.05, 0.95])
    return FloodLine(
        annual_probability=probability,
        flow=float(floods.best.value(score)),
        flow_low=float(low),
        flow_high=float(high),
        levels={share: intervals.replicated_quantile(table, share) for share in annual.SHARES},
        assurance=annual.assurance(margins),
    )


def _grid(lines: tuple[FloodLine, ...], nested: NestedFloods) -> Array:
    """Levels of the frequency curve [m]: those of the floods looked at, and the median bank."""
    bank = float(np.median(nested.banks(nested.rows(nested.z[:, :, 0]))))
    found = np.array([level.value for line in lines for level in line.levels.values()])
    ends = np.array([*found[np.isfinite(found)], bank])
    margin = 0.02 * max(float(np.ptp(ends)), 0.01)
    return np.unique([*np.linspace(ends.min() - margin, ends.max() + margin, LEVELS), bank])
