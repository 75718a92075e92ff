"""From a study to its outcome: the one orchestration."""

from __future__ import annotations

import time
from collections.abc import Iterable

from overbank.errors import DomainError
from overbank.outputs.automatic import settled
from overbank.outputs.comparison import Comparison
from overbank.outputs.outcome import Outcome
from overbank.outputs.registry import ABSENT, HEADLINES, OUTPUTS, Results, find, output, with_needs
from overbank.sampling.run import SAMPLING, SOLVING, Report, Run, silent
from overbank.study.load import Study

QUICK = 2048
"""Most samples of a quick run."""


def run(study: Study, report: Report = silent, only: Iterable[str] | None = None, *, quick: bool = False) -> Outcome:
    """Run a study.

    Parameters
    ----------
    study : from `read_study`
    report : called with a few words whenever a new stage begins
    only : names of the outputs that are wanted, such as ("headwater", "overtopping"); these are found and what they
        need, and the others are None. All of them if left out
    quick : a first look with few samples; the headline answers only if `only` is left out

    Returns
    -------
    Outcome, with every figure, its interval and its method.

    Raises
    ------
    DomainError : it is no study; there is no output of a name; nothing in it is uncertain; or no sample gave a level

    Examples
    --------
    >>> asked = overbank.run_study(study, only=("headwater", "overtopping"), quick=True)
    >>> asked.overtopping.best.low < asked.overtopping.best.high, asked.drivers
    (True, None)
    """
    if not isinstance(study, Study):
        raise DomainError(f"run_study: expected a study; got {study!r}. Read it first: overbank.read_study({study!r})")
    asked = _asked(only, quick)
    wanted = with_needs(OUTPUTS if asked is None else asked)
    clock = _Clock(report)
    begun, found = _begun(study, wanted, clock.begin, quick)
    found = find(begun, wanted, found)
    sampled = any(output(name).sampled for name in wanted)
    return Outcome(
        study=begun.study,
        problem=begun.model.problem,
        place=begun.model.place,
        samples=begun.sampling.samples if sampled else ABSENT,
        asked=asked,
        quick=quick,
        runs=begun.model.runs.total,
        seconds=clock.end(),
        **{name: getattr(found, name) for name in OUTPUTS},
    )


def _asked(only: Iterable[str] | None, quick: bool) -> tuple[str, ...] | None:
    """Names of the outputs that are asked for; None for all of them."""
    return (HEADLINES if quick else None) if only is None else tuple(dict.fromkeys(only))


def stages_of(only: Iterable[str] | None, quick: bool) -> tuple[str, ...]:
    """The stages of a run, as it will name them, but those that a study alone brings with it.

    Raises
    ------
    DomainError : there is no output of a name
    """
    asked = _asked(only, quick)
    found = (output(name).stage for name in with_needs(OUTPUTS if asked is None else asked))
    return (SAMPLING, SOLVING, *(stage for stage in found if stage))


def compare_arrangements(study: Study, report: Report = silent) -> Comparison:
    """Only the comparison of a study's alternatives with the site as it stands, as `run` makes it.

    Raises
    ------
    DomainError : the study has no alternative, or one has no bank at the place where the answers are read
    """
    comparison = run(study, report, only=("comparison",)).comparison if study.alternatives else None
    if comparison is None:
        raise DomainError(
            f"{study.path}: expected at least one [[alternative]] to compare with; got none. Add one: "
            'a name, and set = { "lane.screen.gap_m" = 0.150 }, for example'
        )
    return comparison


def _begun(study: Study, wanted: tuple[str, ...], report: Report, quick: bool) -> tuple[Run, Results]:
    """The run of the study, and what is found already where the study leaves the number of samples to its precision."""
    outputs = [output(name) for name in wanted]
    powers = next((each.powers for each in outputs if each.powers), (1.0,))
    if quick:
        return Run(study.with_samples(few(study)), powers=powers, report=report), Results()
    if study.content.run.precision_m is not None and any(each.sampled for each in outputs):
        return settled(study, powers, report)
    return Run(study, powers=powers, report=report), Results()


def few(study: Study) -> int:
    """Samples of a quick run: a power of two in each replicate, as every sampling design allows."""
    settings = study.content.run
    each = 1 << max(0, (QUICK // settings.replicates).bit_length() - 1)
    return min(settings.samples, settings.replicates * each)


class _Clock:
    """Tells of each stage as it begins, and how long each took [s]."""

    def __init__(self, report: Report) -> None:
        self.report = report
        self.begun: list[tuple[str, float]] = []

    def begin(self, words: str) -> None:
        self.begun.append((words, time.perf_counter()))
        self.report(words)

    def end(self) -> dict[str, float]:
        moments = [*(moment for _, moment in self.begun), time.perf_counter()]
        taken: dict[str, float] = {}
        for (words, moment), after in zip(self.begun, moments[1:], strict=True):
            taken[words] = taken.get(words, 0.0) + after - moment
        return taken
