"""How much blockage to allow, read in every way a reviewer may ask for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from overbank.analysis import allowance, bands, by_blockage, exceedance, overtopping
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.outputs.annual import Annual
from overbank.outputs.blockage import Blockage
from overbank.outputs.headwater import Headwater
from overbank.outputs.output import Output, Tables
from overbank.sampling.ladder import Ladder
from overbank.sampling.run import Run
from overbank.sampling.samples import Array
from overbank.site.numbers import FLOW

TARGETS = (0.01, 0.05, 0.10, 0.20)
"""Probabilities of overtopping that are looked at besides that of the study."""

ASSURANCES = (0.5, 0.8, 0.9, 0.95, 0.99)
"""Non-exceedance probabilities of the level that are looked at besides that of the study."""

FIXED = (0.30, 0.50, 0.67)
"""Fixed allowances whose worth in probability is told."""

LADDER = (0.0, 0.33, 0.50, 0.67, 0.90, 1.0)
"""Blockages at which the level of every flood is told."""

DEBRIS = (
    ("half as much debris", 2.0),
    ("as assumed", 1.0),
    ("twice as much debris", 0.5),
)
"""Other models of the blockage: powers of `ladder.score_below`."""

POWERS = tuple(power for _, power in DEBRIS)


@dataclass(frozen=True)
class Tolerated:
    """The largest blockage that keeps the probability of overtopping within a target."""

    target: float
    largest: Estimate


@dataclass(frozen=True)
class Assured:
    """The level that is not exceeded with an assurance, and the one blockage that gives it in an ordinary run."""

    assurance: float
    level: Estimate
    allowance: Estimate


@dataclass(frozen=True)
class FixedBlockage:
    """What a fixed allowance implies.

    level : of one run with it, all else at the medians [m]
    exceeded : probability that the water stands above that level
    overtopping : probability of going over the bank with this blockage, all else as sampled
    """

    blockage: float
    level: float
    exceeded: Estimate
    overtopping: Estimate


@dataclass(frozen=True)
class AssumedBlockage:
    """The answers under another model of the blockage."""

    words: str
    probability: Estimate
    level: Estimate
    allowance: Estimate


@dataclass(frozen=True)
class LevelsOfFlood:
    """Blockage -> level of one run in a flood, all else at the medians [m]."""

    words: str
    flow: float
    levels: dict[float, float]


@dataclass(frozen=True)
class Readings:
    """Every reading of the allowance for one blockage."""

    name: str
    tolerated: tuple[Tolerated, ...]
    assured: tuple[Assured, ...]
    fixed: tuple[FixedBlockage, ...]
    assumed: tuple[AssumedBlockage, ...]
    floods: tuple[LevelsOfFlood, ...]


def _find(run: Run, headwater: Headwater, blockage: Blockage | None, annual: Annual | None) -> Readings | None:
    """None when no blockage is uncertain."""
    debris = run.debris
    if debris is None or blockage is None:
        return None
    reading, decision = _Reading(run, debris, headwater), run.sampling.decision
    return Readings(
        name=debris.name,
        tolerated=tuple(map(reading.tolerated, sorted({*TARGETS, decision.target_probability}))),
        assured=tuple(map(reading.assured, sorted({*ASSURANCES, decision.assurance}))),
        fixed=tuple(map(reading.fixed, FIXED)),
        assumed=tuple(reading.assumed(*each) for each in DEBRIS),
        floods=_floods(run, debris.name, annual),
    )


@dataclass(frozen=True)
class _Reading:
    """What the readings are read from."""

    run: Run
    debris: Ladder
    headwater: Headwater

    @property
    def critical(self) -> Array:
        """Critical blockages at the place, shape (R, N)."""
        return np.asarray(self.debris.critical[self.run.sampling.at])

    def level_at(self, share: float) -> float:
        """Level of one run with this blockage [m]."""
        return self.run.model.level_with(self.debris.name, share)

    def tolerated(self, target: float) -> Tolerated:
        """The largest blockage within a target."""
        return Tolerated(target, by_blockage.largest_within(self.critical, target))

    def assured(self, share: float) -> Assured:
        """The level that holds with an assurance, and the one blockage for it."""
        level = exceedance.quantile(self.headwater.curve, 1.0 - share, self.run.sampling.samples.levels)
        return Assured(share, level, allowance.needed(self.level_at, level))

    def fixed(self, share: float) -> FixedBlockage:
        """What an allowance fixed beforehand means: its level in one run, how often that is exceeded, overtopping."""
        level, curve = self.level_at(share), self.headwater.stepped
        above = [np.interp(level, curve.at, row, left=1.0, right=0.0) for row in curve.replicates]
        set_to = by_blockage.curve(self.critical, np.array([share]))
        over = Estimate(float(set_to.probability[0]), float(set_to.low[0]), float(set_to.high[0]), set_to.method)
        return FixedBlockage(share, level, over_replicates(np.array(above), curve.method, (0.0, 1.0)), over)

    def assumed(self, words: str, power: float) -> AssumedBlockage:
        """The answers had the blockage been of another size, everything else as it is."""
        sampling = self.run.sampling
        mended = self.debris.over(self.critical, sampling.samples.depth_over_bank, power)
        level = bands.inverse(self.debris.exceedance(power), 1.0 - sampling.decision.assurance, falling=True)
        return AssumedBlockage(
            words, overtopping.threshold(mended.probabilities), level, allowance.needed(self.level_at, level)
        )


def _floods(run: Run, name: str, annual: Annual | None) -> tuple[LevelsOfFlood, ...]:
    """Levels of one run at every blockage of the ladder: in the design flood, and in every flood of a year."""
    design = float(np.asarray(run.model.problem.medians()[FLOW]).flat[0])
    floods = [("the design flood", design)]
    if annual is not None:
        floods += [(f"annual probability {line.annual_probability:g}", line.flow) for line in annual.lines]
    return tuple(
        LevelsOfFlood(words, flow, {share: run.model.level_of({FLOW: flow, name: share}) for share in LADDER})
        for words, flow in floods
    )


def _tables(found: Readings) -> Tables:
    """Every reading of the allowance, one row a figure."""
    rows: list[tuple[str, str, str, Estimate]] = []
    rows += [("tolerated", f"{each.target:g}", "largest_blockage", each.largest) for each in found.tolerated]
    for assured in found.assured:
        rows.append(("assured", f"{assured.assurance:g}", "level_m", assured.level))
        rows.append(("assured", f"{assured.assurance:g}", "allowance", assured.allowance))
    for fixed in found.fixed:
        rows.append(("fixed", f"{fixed.blockage:g}", "level_exceeded", fixed.exceeded))
        rows.append(("fixed", f"{fixed.blockage:g}", "overtopping", fixed.overtopping))
    for assumed in found.assumed:
        rows.append(("model", assumed.words, "overtopping", assumed.probability))
        rows.append(("model", assumed.words, "level_m", assumed.level))
        rows.append(("model", assumed.words, "allowance", assumed.allowance))
    columns = ["reading", "of", "figure", "value", "low", "high", "method"]
    table = pd.DataFrame(
        [(*row[:3], row[3].value, row[3].low, row[3].high, row[3].method) for row in rows], columns=columns
    )
    return {"allowances": table}


OUTPUT = Output(
    find=_find,
    needs=("headwater", "blockage", "annual"),
    powers=POWERS,
    tables=_tables,
)
