"""What the model answers with some numbers held by hand: one run with all others at their medians, and samples of them.

A number that is held is certain, and what depended on it no longer does, as in a study whose file has it so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from overbank.analysis import exceedance
from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate
from overbank.analysis.overtopping import Probability, plain
from overbank.live.controls import TAILWATER, Control, controls_of
from overbank.model import Model
from overbank.outputs.comparison import AS_IT_STANDS
from overbank.report.section import Section, section_once
from overbank.run import few
from overbank.sampling.batches import batches
from overbank.sampling.run import common_columns, level_grid
from overbank.site.long_section import long_section
from overbank.site.row import Site, SiteOutcome
from overbank.site.tailwater import FixedLevel
from overbank.site.validity import Remark, remarks
from overbank.study.build import build
from overbank.study.load import Study

Array = NDArray[np.float64]
Held = Mapping[str, float]
"""Numbers held by hand, by their dotted names."""


@dataclass(frozen=True)
class Once:
    """One run, the numbers that are not held at their medians.

    numbers : all of them
    level, bank : at the place [m]
    """

    outcome: SiteOutcome
    numbers: Mapping[str, float | Array]
    level: float
    bank: float
    section: Section
    remarks: tuple[Remark, ...]


@dataclass(frozen=True)
class Sampled:
    """What the samples say, the numbers that are not held as uncertain as the study has them.

    over : probability of water over the bank at the place
    middle, assured : levels exceeded by half of the samples, and by what the assurance leaves [m]
    curve : probability that the level is exceeded; None where no sample has a level
    samples, failed, endless : how many there are, gave no number, and find no way through
    """

    over: Probability
    middle: Estimate
    assured: Estimate
    curve: Curve | None
    samples: int
    failed: int
    endless: int


@dataclass(frozen=True)
class Arrangement:
    """The site as it stands, or as an alternative changes it, with its samples.

    own : names that the alternative sets itself; a hand does not move these
    rows : sampled numbers [R n, d], of R replicates
    """

    name: str
    study: Study
    model: Model
    own: tuple[str, ...]
    rows: Array

    @property
    def shape(self) -> tuple[int, int]:
        """(replicates, samples of each)."""
        replicates = self.study.content.run.replicates
        return replicates, len(self.rows) // replicates

    def taken(self, held: Held) -> dict[str, float]:
        """Of the numbers held, those that this arrangement has and does not set itself."""
        known = {*self.model.problem.medians(), TAILWATER}
        return {name: value for name, value in held.items() if name in known and not self._sets(name)}

    def _sets(self, name: str) -> bool:
        """Whether the alternative sets a number itself, a table that it stands in, or a part of it."""
        return any(f"{name}.".startswith(f"{key}.") or key.startswith(f"{name}.") for key in self.own)

    def once(self, held: Held) -> Once:
        """The run with every other number at its median."""
        site, numbers = self._held(self.model.medians(), held)
        outcome = site.march(numbers, 1)
        place = outcome.element(self.model.place)
        assert place.bank_level is not None
        stations = long_section(site, numbers, numbers, 1)
        return Once(
            outcome,
            numbers,
            float(place.level[0]),
            float(place.bank_level[0]),
            section_once(site.elements, numbers, stations, outcome),
            remarks(site, outcome, numbers),
        )

    def sampled(self, held: Held) -> Sampled:
        """The samples with the numbers held."""
        site, numbers = self._held(self.rows, held)
        place = self.model.place
        (found,) = site.levels(numbers, len(self.rows), (place,))
        levels = found.reshape(self.shape)
        banks = np.broadcast_to(np.asarray(numbers[f"{place}.bank_level_m"]), found.shape).reshape(self.shape)
        settings, assurance = self.study.content.run, self.study.content.decision.assurance
        over = plain(levels - banks, settings.design)
        curve = None
        if np.isfinite(levels).any():
            curve = exceedance.plain(levels, level_grid(levels, banks, assurance))
        middle, assured = (
            exceedance.plain_quantile(levels, probability, settings.design) for probability in (0.5, 1.0 - assurance)
        )
        failed, endless = np.count_nonzero(np.isnan(levels)), np.count_nonzero(np.isinf(levels))
        return Sampled(over, middle, assured, curve, levels.size, int(failed), int(endless))

    def _held(self, table: Array, held: Held) -> tuple[Site, Mapping[str, float | Array]]:
        """The site and all its numbers; a tailwater held is a level, whatever the flow."""
        problem, taken = self.model.problem, self.taken(held)
        columns = {name: table[:, column] for column, name in enumerate(problem.inputs.names)}
        site = replace(problem.site, tailwater=FixedLevel()) if TAILWATER in taken else problem.site
        return site, problem.with_numbers({**columns, **taken})


class Live:
    """A study whose numbers are moved by hand.

    study : with as many samples as a quick run has
    base : the site as it stands
    others : its alternatives, on the same random numbers
    controls : what may be moved
    """

    def __init__(self, study: Study) -> None:
        self.study = study.with_samples(few(study))
        columns = common_columns(self.study)
        self.base = _arrangement(AS_IT_STANDS, self.study, (), columns)
        self.others = tuple(
            _arrangement(name, self.study.alternative(name), _set_by(study, name), columns)
            for name in self.study.alternatives
        )
        self.controls: tuple[Control, ...] = controls_of(self.base.model)

    @property
    def place(self) -> str:
        """Where the answers are read."""
        return self.base.model.place


def _arrangement(name: str, study: Study, own: tuple[str, ...], columns: tuple[str, ...]) -> Arrangement:
    model, settings = Model(build(study)), study.content.run
    rows = np.empty((settings.samples, 0))
    if model.problem.inputs.dimension:
        rows = np.concatenate([batch.rows for batch in batches(model, settings, columns)])
    return Arrangement(name, study, model, own, rows)


def _set_by(study: Study, name: str) -> tuple[str, ...]:
    """The dotted names that an alternative sets."""
    raw = next(each for each in study.document["alternative"] if each["name"] == name)
    return tuple(raw.get("set", {}))
