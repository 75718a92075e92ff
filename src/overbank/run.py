"""From a study to its outcome: the one orchestration."""

from __future__ import annotations

import time
from collections.abc import Callable

from overbank.errors import DomainError
from overbank.findings.water import Comparison
from overbank.outcome import Outcome
from overbank.site.influence import influences
from overbank.site.validity import remarks
from overbank.stages.allowances import readings
from overbank.stages.annual import annual_floods
from overbank.stages.automatic import answered
from overbank.stages.checking import design_checks
from overbank.stages.comparing import compare
from overbank.stages.learning import learn
from overbank.stages.one_at_a_time import swings
from overbank.stages.panel import panel
from overbank.stages.people import people
from overbank.stages.places import at_places
from overbank.stages.ranking import drivers
from overbank.stages.requirements import requirements
from overbank.stages.surveys import surveys
from overbank.stages.verdicts import verdicts
from overbank.study.load import Study

Report = Callable[[str], None]


def _silent(_words: str) -> None:
    """Report to nobody."""


def run(study: Study, report: Report = _silent) -> Outcome:
    """Run a study in full.

    Parameters
    ----------
    study : from `read_study`
    report : called with a few words whenever a new stage begins

    Returns
    -------
    Outcome, with every figure, its interval and its method.

    Raises
    ------
    DomainError : nothing in the study is uncertain, or no sample gave a level
    """
    clock = _Clock(report)
    found, automatic = answered(study, clock.begin)
    sampling = found.sampling
    study = sampling.study
    clock.begin("looking at every bank")
    places = at_places(sampling, found.climb)
    comparison = compare(study, found, clock.begin) if study.alternatives else None
    if sampling.problem.annual is not None:
        clock.begin("looking at the floods of a year")
    annual = annual_floods(sampling)
    clock.begin("ranking the drivers")
    ranked = drivers(found)
    clock.begin("weighing surveys and floods seen")
    surveyed, learnt = surveys(found), learn(found)
    clock.begin("checking what was found")
    model, problem = sampling.model, sampling.problem
    settled = verdicts(found)
    limits = remarks(problem.site, sampling.samples.site, model.numbers(sampling.rows))
    return Outcome(
        study=study,
        problem=problem,
        place=model.place,
        deterministic=model.march(model.medians()),
        samples=sampling.samples,
        overtopping=found.overtopping,
        places=places,
        headwater=found.headwater,
        blockage=found.blockage,
        readings=readings(found, annual),
        panel=panel(found),
        comparison=comparison,
        annual=annual,
        drivers=ranked,
        swings=swings(model),
        surveys=surveyed,
        learnt=learnt,
        automatic=automatic,
        checks=design_checks(sampling),
        people=people(sampling),
        asked_for=requirements(found, comparison),
        influences=influences(problem.site, problem.medians()),
        remarks=limits,
        verdicts=settled,
        runs=sampling.runs,
        seconds=clock.end(),
    )


def compare_arrangements(study: Study, report: Report = _silent) -> Comparison:
    """Only the comparison of a study's alternatives with the site as it stands, as `run` makes it.

    Raises
    ------
    DomainError : the study has no alternative, or one has no bank at the place where the answers are read
    """
    if not study.alternatives:
        raise DomainError(
            f"{study.path}: expected at least one [[alternative]] to compare with; got none. Add one: "
            'a name, and set = { "lane.screen.gap_m" = 0.150 }, for example'
        )
    found, _ = answered(study, report)
    return compare(found.sampling.study, found, report)


class _Clock:
    """Tells of each stage as it begins, and how long each took [s]."""

    def __init__(self, report: Report) -> None:
        self.report = report
        self.begun: dict[str, float] = {}

    def begin(self, words: str) -> None:
        self.begun[words] = time.perf_counter()
        self.report(words)

    def end(self) -> dict[str, float]:
        moments = [*self.begun.values(), time.perf_counter()]
        return {words: after - moment for (words, moment), after in zip(self.begun.items(), moments[1:], strict=True)}
