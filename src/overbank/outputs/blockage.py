"""What blockage does: the probability of overtopping with each blockage, the largest allowed, and the allowance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from overbank.analysis import allowance, by_blockage
from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate
from overbank.outputs.headwater import Headwater
from overbank.outputs.in_tables import figure, plain
from overbank.outputs.output import Output, Tables
from overbank.sampling.ladder import Ladder
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.uncertain.conditioning import NormalGiven

SET = (0.0, 0.30, 0.50, 0.67, 1.0)
"""Blockages whose level in one run is told."""


@dataclass(frozen=True)
class Blockage:
    """What blockage does.

    name : of the input
    fixed : P(overtop) with the blockage set, all else as sampled
    given : P(overtop) given the blockage; differs from `fixed` where blockage depends on other inputs, else None
    largest : largest blockage that keeps P(overtop) within the target
    allowance : the single blockage that reproduces the headwater of the chosen assurance in a deterministic run
    levels : blockage -> level of one run with it, all else at the medians [m]
    """

    name: str
    fixed: Curve
    given: Curve | None
    largest: Estimate
    allowance: Estimate
    levels: dict[float, float]


def _find(run: Run, headwater: Headwater) -> Blockage | None:
    """From the ladder over the blockage; None without one."""
    sampling, ladder = run.sampling, run.debris
    if ladder is None:
        return None
    critical, grid = ladder.critical[sampling.at], by_blockage.grid([value for value, _ in ladder.distribution.atoms])
    decision = sampling.decision
    return Blockage(
        name=ladder.name,
        fixed=by_blockage.curve(critical, grid),
        given=_given(ladder, critical, grid),
        largest=by_blockage.largest_within(critical, decision.target_probability),
        allowance=allowance.needed(
            lambda share: run.model.level_with(ladder.name, share), headwater.quantiles[decision.assurance]
        ),
        levels={share: run.model.level_with(ladder.name, share) for share in SET},
    )


def _given(ladder: Ladder, critical: Array, grid: Array) -> Curve | None:
    """P(overtop) given the blockage; None where that is the same as with the blockage set."""
    law, distribution = ladder.given, ladder.distribution
    normal = law if isinstance(law, NormalGiven) else None
    if normal is not None and not np.ptp(normal.mean) > 0.0:
        return None
    return by_blockage.given(
        critical,
        grid,
        score_at=distribution.score(grid),
        score_below=distribution.score_below(grid),
        conditional_mean=None if normal is None else normal.mean,
        spread=1.0 if normal is None else normal.spread,
        law=None if normal is not None else law,
    )


def _summary(found: Blockage) -> dict[str, Any]:
    return {
        "blockage": {
            "input": found.name,
            "largest_within_target": figure(found.largest),
            "allowance_for_assurance": figure(found.allowance),
            "overtopping_at_the_least_blockage": _at(found.fixed, 0),
            "overtopping_at_the_greatest_blockage": _at(found.fixed, -1),
        }
    }


def _at(curve: Curve, place: int) -> dict[str, Any]:
    ends = {"value": curve.probability, "low": curve.low, "high": curve.high}
    return {
        "blockage": plain(curve.at[place]),
        **{name: plain(values[place]) for name, values in ends.items()},
        "method": curve.method,
    }


def _tables(found: Blockage) -> Tables:
    """Overtopping as a function of blockage: set to it, and given it."""
    table = found.fixed.table("blockage").rename(
        columns={"probability": "probability_if_fixed", "low": "fixed_low", "high": "fixed_high"}
    )
    given = (found.given or found.fixed).table("blockage")
    beside = {"probability_given": given["probability"], "given_low": given["low"], "given_high": given["high"]}
    return {"overtopping_by_blockage": table.assign(**beside)}


OUTPUT = Output(find=_find, needs=("headwater",), tables=_tables, summary=_summary)
