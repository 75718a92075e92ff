"""One run with every uncertain number at its median."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from overbank.model import Model
from overbank.notebook import shown
from overbank.outputs.in_tables import plain, table_of
from overbank.outputs.output import Output, Tables
from overbank.site.design_checks import FILLINGS, DesignCheck, Filling, design_checks, fillings
from overbank.site.influence import Influence, influences
from overbank.site.long_section import Station, long_section
from overbank.site.people import AtStructure, people_at
from overbank.site.row import ElementOutcome, SiteOutcome
from overbank.site.validity import Remark, past_belief, remarks
from overbank.study.build import Problem, build
from overbank.study.load import Study
from overbank.words import cautions, measure

if TYPE_CHECKING:  # a check samples nothing
    from overbank.sampling.run import Run


@dataclass(frozen=True)
class DeterministicRun:
    """The study's site at the medians.

    Examples
    --------
    >>> overbank.check_study(study).as_json()["elements"][0]["kind"]
    'culvert'
    """

    study: Study
    problem: Problem
    outcome: SiteOutcome
    stations: tuple[Station, ...]
    remarks: tuple[Remark, ...]
    checks: tuple[DesignCheck, ...]
    fillings: tuple[Filling, ...]
    influences: tuple[Influence, ...]
    people: tuple[AtStructure, ...]

    def _repr_html_(self) -> str:
        """Levels at the medians, as a notebook shows them, and the cautions."""
        rows = [_levels(element) for element in self.outcome.elements]
        first, *others = cautions()
        below = [
            f"Every uncertain number at its median: flow {self.outcome.flow[0]:.2f}\u00a0m³/s, tailwater "
            f"{self.outcome.tailwater[0]:.2f}\u00a0m. One run; nothing is sampled, so there is no interval.",
            first,
        ]
        heads = ("going upstream", "level", "bank", "freeboard", "what governs")
        return shown(self.study.title, heads, rows, below, others)

    def as_json(self) -> dict[str, Any]:
        """Flow, tailwater, every structure's level and regime, and the usual checks; null where there is no number."""
        return {
            "flow_m3_s": _number(self.outcome.flow[0]),
            "tailwater_m": _number(self.outcome.tailwater[0]),
            "elements": [_element(element) for element in self.outcome.elements],
            "design_checks": [_check(check, self.problem) for check in self.checks],
            "barrels": [
                {"element": filling.element, "flow": FILLINGS.get(filling.codes[0], "no solution")}
                for filling in self.fillings
            ],
            "influence": [_influence(influence) for influence in self.influences],
            "people": [
                {"element": at.element, "side": felt.side, "figure": felt.name, "value": _number(felt.values[0])}
                for at in self.people
                for felt in at.figures
            ],
        }


def deterministic_run(study: Study) -> DeterministicRun:
    """Run the site once, every uncertain number at its median.

    Examples
    --------
    >>> once = overbank.check_study(study)
    >>> round(once.as_json()["flow_m3_s"], 2)
    6.0
    """
    return _once(study, Model(build(study)))


def _find(run: Run) -> DeterministicRun:
    return _once(run.study, run.model)


def _once(study: Study, model: Model) -> DeterministicRun:
    problem, outcome = model.problem, model.at_medians
    numbers = model.numbers(model.medians())
    stations = long_section(problem.site, numbers, numbers, 1)
    return DeterministicRun(
        study,
        problem,
        outcome,
        stations,
        (*remarks(problem.site, outcome, numbers), *past_belief(outcome, stations)),
        design_checks(outcome, numbers),
        fillings(outcome, numbers),
        influences(problem.site, numbers),
        tuple(
            people_at(outcome, numbers, each.id, persons.bodies)
            for each in study.content.element
            if (persons := each.persons()) is not None
        ),
    )


def _levels(element: ElementOutcome) -> tuple[str, ...]:
    """A structure with its level, bank and freeboard in words; empty where there is no bank."""
    level = float(element.level[0])
    regime = element.governs()
    if element.bank_level is None:
        return element.id, measure(level, "m"), "", "", regime
    bank = float(element.bank_level[0])
    spare = measure(bank - level, "m", signed=True) if math.isfinite(level) else ""
    return element.id, measure(level, "m"), measure(bank, "m"), spare, regime


def _number(value: float) -> float | None:
    return round(float(value), 6) if math.isfinite(value) else None


def _check(check: DesignCheck, problem: Problem) -> dict[str, Any]:
    """A design check by name: the figure, what is asked, and the margin; null where there is no way through."""
    return {
        "element": check.element,
        "figure": check.name,
        "value": _number(check.values[0]),
        "asked": check.asked,
        "asked_by": problem.origin(check.asked_by),
        "margin": _number(check.margins[0]),
    }


def _influence(influence: Influence) -> dict[str, Any]:
    """How far upstream a structure is felt; null where that is not known, or beyond what is modelled."""
    return {
        "element": influence.element,
        "afflux_m": _number(influence.at_structure),
        "to_a_tenth_m": _number(influence.to_tenth),
        "to_10_mm_m": _number(influence.to_small),
        "modelled_m": _number(influence.modelled),
        "left_m": _number(influence.left),
        "passes": list(influence.passed),
    }


def _element(element: ElementOutcome) -> dict[str, Any]:
    """A structure's figures by name with their units; an endless level is null and its regime says why."""
    level = float(element.level[0])
    bank = None if element.bank_level is None else float(element.bank_level[0])
    figures = (figure for figure in element.structure.figures if figure.name in element.results)
    return {
        "id": element.id,
        "kind": element.kind,
        "level_m": _number(level),
        "regime": element.governs(),
        "bank_level_m": None if bank is None else _number(bank),
        "freeboard_m": None if bank is None else _number(bank - level),
        **{figure.reported: _number(element.results[figure.name][0]) for figure in figures},
    }


def _summary(found: DeterministicRun) -> dict[str, Any]:
    place = found.outcome.element(found.problem.at)
    return {
        "deterministic": {
            "flow_m3_s": plain(found.outcome.flow[0]),
            "tailwater_m": plain(found.outcome.tailwater[0]),
            "level_m": plain(place.level[0]),
            "bank_level_m": None if place.bank_level is None else plain(place.bank_level[0]),
            "regime": place.governs(),
        }
    }


def _tables(found: DeterministicRun) -> Tables:
    """How far upstream each structure is felt [m]."""
    return {
        "influence": table_of(
            {
                **{"element": each.element, "afflux_m": each.at_structure, "to_a_tenth_m": each.to_tenth},
                **{"to_10_mm_m": each.to_small, "modelled_m": each.modelled, "left_m": each.left},
            }
            for each in found.influences
        )
    }


OUTPUT = Output(find=_find, sampled=False, tables=_tables, summary=_summary)
