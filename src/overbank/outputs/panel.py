"""Answers for other bank levels, targets and blockages, so that a reader can look around without another run."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from overbank.analysis import bands, exceedance
from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate, over_replicates
from overbank.outputs.headwater import Headwater
from overbank.outputs.output import Output, Tables
from overbank.sampling.run import Run
from overbank.sampling.samples import Array, Sampling

BLOCKAGES = tuple(step / 20 for step in range(21))
"""Blockages that can be set."""

TARGETS = (0.01, 0.02, 0.05, 0.10, 0.20, 0.30, 0.50)
"""Probabilities of overtopping that can be chosen, besides that of the study."""

SAMPLES = 256
"""Samples of each replicate that are run with every blockage."""

STEPS = (0.01, 0.02, 0.05, 0.10, 0.20)
"""Steps between two bank levels [m]: the finest that needs no more than `MOST` levels."""

MOST = 81
"""Most bank levels that can be chosen."""

REACH = 7.5
"""No bank level lies further from the median bank [m], however high the water stands: the steps stay fine."""


@dataclass(frozen=True)
class PanelRow:
    """What is read with the blockage set, or as uncertain as assumed.

    blockage : set to; None where it is as uncertain as assumed
    above : for each bank level of the panel, the probability that the water stands above it
    levels : for each target of the panel, the level exceeded with it [m]
    """

    blockage: float | None
    above: tuple[Estimate, ...]
    levels: tuple[Estimate, ...]


@dataclass(frozen=True)
class Panel:
    """Answers for other bank levels, targets and blockages than those of the study, in the design flood.

    name : of the blockage; None where none is uncertain, and then there is one row only
    banks : bank levels, each taken as certain [m]
    start : which of them is the median bank of the study
    targets : probabilities of exceedance; the study's own among them
    rows : first as uncertain as assumed, then with the blockage set to 0, 0.05 ... 1
    largest : for each bank and target, the largest blockage that keeps within it; empty without a blockage
    samples : behind every figure of a set blockage
    """

    name: str | None
    banks: tuple[float, ...]
    start: int
    targets: tuple[float, ...]
    rows: tuple[PanelRow, ...]
    largest: tuple[tuple[Estimate, ...], ...]
    samples: int


def _find(run: Run, headwater: Headwater) -> Panel | None:
    """None where no sample has a level, so that there is nothing to read off."""
    sampling, debris = run.sampling, run.debris
    set_to = {} if debris is None else _levels(sampling, debris.column)
    pool = [sampling.samples.levels, *set_to.values()]
    kept = np.concatenate([levels[np.isfinite(levels)] for levels in pool])
    if not kept.size:
        return None
    banks, start = _banks(sampling, kept)
    targets = tuple(sorted({*TARGETS, sampling.decision.target_probability}))
    curves = {blockage: exceedance.plain(levels, banks) for blockage, levels in set_to.items()}
    design = sampling.settings.design
    rows = [_as_assumed(headwater, sampling.samples.levels, banks, targets)]
    rows += [
        PanelRow(
            blockage,
            _figures(curves[blockage]),
            tuple(exceedance.plain_quantile(levels, target, design) for target in targets),
        )
        for blockage, levels in set_to.items()
    ]
    return Panel(
        name=None if debris is None else debris.name,
        banks=tuple(banks.tolist()),
        start=start,
        targets=targets,
        rows=tuple(rows),
        largest=_largest(curves, targets),
        samples=next(iter(set_to.values())).size if set_to else 0,
    )


def _levels(sampling: Sampling, column: int) -> dict[float, Array]:
    """Levels at the place with the blockage set, of the first samples of every replicate; shape (R, n)."""
    replicates, place = sampling.shape[0], (sampling.model.place,)
    chosen = sampling.chosen(SAMPLES * replicates)
    return {
        blockage: sampling.levels_with(column, np.full(chosen.size, blockage), place, chosen)[0].reshape(replicates, -1)
        for blockage in BLOCKAGES
    }


def _banks(sampling: Sampling, levels: Array) -> tuple[Array, int]:
    """Bank levels in equal steps around the median bank, to the nearest centimetre, over the levels that occur near it.

    Where barrels are shut and nothing else leads on, levels may stand hundreds of metres up.
    """
    bank = round(sampling.model.bank_at_medians, 2)
    low, high = (float(end) for end in np.quantile(levels, (0.005, 0.995)))
    low, high = max(min(low, bank - 0.5), bank - REACH), min(max(high, bank + 0.5), bank + REACH)
    step = next(step for step in STEPS if (high - low) / step <= MOST - 2)
    below, above = math.ceil((bank - low) / step), math.ceil((high - bank) / step)
    return np.round(bank + step * np.arange(-below, above + 1), 2), below


def _as_assumed(headwater: Headwater, levels: Array, banks: Array, targets: tuple[float, ...]) -> PanelRow:
    """Read off the curve of the headwater, as everywhere else."""
    curve = headwater.stepped
    above = np.array([np.interp(banks, curve.at, row, left=1.0, right=row[-1]) for row in curve.replicates])
    figures = tuple(over_replicates(each, curve.method, (0.0, 1.0)) for each in above.T)
    ends = tuple(exceedance.quantile(headwater.curve, target, levels) for target in targets)
    return PanelRow(None, figures, ends)


def _figures(curve: Curve) -> tuple[Estimate, ...]:
    ends = zip(curve.probability.tolist(), curve.low.tolist(), curve.high.tolist(), strict=True)
    return tuple(Estimate(value, low, high, curve.method) for value, low, high in ends)


def _largest(curves: dict[float, Curve], targets: tuple[float, ...]) -> tuple[tuple[Estimate, ...], ...]:
    """Largest blockage within each target for every bank level, on straight lines between the blockages."""
    if not curves:
        return ()
    at = np.array(list(curves))
    table = np.array([curve.replicates for curve in curves.values()])  # (blockages, R, banks)
    found = []
    for bank in range(table.shape[2]):
        along = bands.from_means(at, table[:, :, bank].T, next(iter(curves.values())).method)
        found.append(tuple(_within(along, target) for target in targets))
    return tuple(found)


def _within(curve: Curve, target: float) -> Estimate:
    """None where even nothing blocked exceeds the target, 1 where all of them keep within it; else where it passes."""
    found = bands.inverse(curve, target, falling=False)
    value, low, high = (float(np.clip(each, 0.0, 1.0)) for each in (found.value, found.low, found.high))
    if curve.probability[0] > target:
        return Estimate(np.nan, np.nan, np.nan, found.method, "more than the target even with nothing blocked")
    note = "within the target whatever the blockage" if curve.probability[-1] <= target else ""
    return Estimate(value, low, high, found.method, note)


def panel_table(found: Panel) -> pd.DataFrame:
    """Every figure that the panel of the report can show; without a blockage: as uncertain as assumed."""
    rows: list[tuple[str, float, float, float, Estimate]] = []
    for row in found.rows:
        blockage = math.nan if row.blockage is None else row.blockage
        pairs = zip(found.banks, row.above, strict=True)
        rows += [("probability_above_bank", blockage, bank, math.nan, figure) for bank, figure in pairs]
        ends = zip(found.targets, row.levels, strict=True)
        rows += [("level_exceeded_m", blockage, math.nan, target, figure) for target, figure in ends]
    for bank, figures in zip(found.banks, found.largest, strict=False):
        pairs = zip(found.targets, figures, strict=True)
        rows += [("largest_blockage", math.nan, bank, target, figure) for target, figure in pairs]
    columns = ["figure", "blockage", "bank_level_m", "target_probability", "value", "low", "high"]
    return pd.DataFrame([(*row[:4], row[4].value, row[4].low, row[4].high) for row in rows], columns=columns)


def _tables(found: Panel) -> Tables:
    return {"panel": panel_table(found)}


OUTPUT = Output(find=_find, needs=("headwater",), tables=_tables)
