"""From a study to its outcome: the one orchestration."""

from __future__ import annotations

import time
from collections.abc import Callable

from overbank.outcome import Outcome
from overbank.site.validity import remarks
from overbank.stages.blocked import blockage
from overbank.stages.climbing import climb, stair_input
from overbank.stages.headwater import headwater, over_the_bank
from overbank.stages.places import at_places
from overbank.stages.ranking import drivers
from overbank.stages.sampling import sample
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
    clock.begin("sampling the site")
    sampling = sample(study)
    clock.begin("climbing the ladder")
    stair = stair_input(sampling.problem, sampling.model.place)
    ladder = None if stair is None else climb(sampling, stair)
    clock.begin("reading the curves")
    water = headwater(sampling, ladder)
    over, probabilities = over_the_bank(sampling, ladder)
    blocked = blockage(sampling, ladder, water)
    places = at_places(sampling, ladder)
    clock.begin("ranking the drivers")
    ranked = drivers(sampling)
    clock.begin("checking what was found")
    model, problem = sampling.model, sampling.problem
    settled = verdicts(sampling, ladder, over, probabilities, blocked)
    limits = remarks(problem.site, sampling.samples.site, model.numbers(sampling.rows))
    return Outcome(
        study=study,
        problem=problem,
        place=model.place,
        deterministic=model.march(model.medians()),
        samples=sampling.samples,
        overtopping=over,
        places=places,
        headwater=water,
        blockage=blocked,
        drivers=ranked,
        remarks=limits,
        verdicts=settled,
        runs=sampling.runs,
        seconds=clock.end(),
    )


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
