"""Every output in the order in which they are found: a new one is an import and a line of `Results`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from importlib import import_module
from typing import TYPE_CHECKING, Any

from overbank.errors import DomainError
from overbank.outputs.output import Output
from overbank.sampling.run import Run

if TYPE_CHECKING:
    from overbank.analysis.automatic import Search
    from overbank.analysis.convergence import Convergence
    from overbank.outputs.allowances import Readings
    from overbank.outputs.annual import Annual
    from overbank.outputs.blockage import Blockage
    from overbank.outputs.checks import Checks
    from overbank.outputs.comparison import Comparison
    from overbank.outputs.decision_map import Corner
    from overbank.outputs.depth_over_bank import DepthOverBank
    from overbank.outputs.drivers import Drivers
    from overbank.outputs.headwater import Headwater
    from overbank.outputs.learnt import LearntFromFloods
    from overbank.outputs.long_section import LongSection
    from overbank.outputs.medians import DeterministicRun
    from overbank.outputs.money import Accounts
    from overbank.outputs.one_at_a_time import Swing
    from overbank.outputs.over_capacity import OverCapacity
    from overbank.outputs.overtopping import Overtopping
    from overbank.outputs.panel import Panel
    from overbank.outputs.people import People
    from overbank.outputs.places import Places
    from overbank.outputs.receptors import Reached
    from overbank.outputs.requirements import AskedFor
    from overbank.outputs.spilled import Spilled
    from overbank.outputs.surveys import Surveys
    from overbank.outputs.surveys_over_life import SurveysOverLife
    from overbank.outputs.tails import TailsCompared
    from overbank.outputs.targets import Target
    from overbank.outputs.through_flood import ThroughFlood
    from overbank.outputs.variations import Variation
    from overbank.outputs.years import InYears
    from overbank.outputs.years_in_time import YearsInTime
    from overbank.site.validity import Remark

ABSENT: Any = None
"""An output that was not asked for. Whoever reads one names it among its needs, so that it is there."""


@dataclass(frozen=True, kw_only=True)
class Results:
    """The outputs by name, each in the module of that name, in the order in which they are found.

    A type with None in it: the study may ask for nothing of the kind.
    """

    medians: DeterministicRun = ABSENT
    headwater: Headwater = ABSENT
    overtopping: Overtopping = ABSENT
    places: Places = ABSENT
    depth_over_bank: DepthOverBank = ABSENT
    blockage: Blockage | None = ABSENT
    comparison: Comparison | None = ABSENT
    annual: Annual | None = ABSENT
    tails: TailsCompared | None = ABSENT
    variations: tuple[Variation, ...] = ABSENT
    decision_map: tuple[Corner, ...] | None = ABSENT
    over_capacity: OverCapacity | None = ABSENT
    through_flood: ThroughFlood | None = ABSENT
    years_in_time: YearsInTime | None = ABSENT
    drivers: Drivers = ABSENT
    surveys: Surveys | None = ABSENT
    learnt: LearntFromFloods | None = ABSENT
    automatic: Search | None = ABSENT
    allowances: Readings | None = ABSENT
    years: tuple[InYears, ...] | None = ABSENT
    money: Accounts | None = ABSENT
    surveys_over_life: SurveysOverLife | None = ABSENT
    targets: tuple[Target, ...] = ABSENT
    receptors: tuple[Reached, ...] | None = ABSENT
    spilled: tuple[Spilled, ...] = ABSENT
    panel: Panel | None = ABSENT
    one_at_a_time: tuple[Swing, ...] = ABSENT
    checks: Checks = ABSENT
    people: tuple[People, ...] = ABSENT
    requirements: AskedFor | None = ABSENT
    long_section: LongSection = ABSENT
    convergence: dict[str, Convergence] = ABSENT
    remarks: tuple[Remark, ...] = ABSENT


OUTPUTS = tuple(each.name for each in fields(Results))
"""Names of all outputs."""

HEADLINES = ("medians", "headwater", "overtopping", "blockage")
"""Of the headline answers: how high, how likely, how much blockage."""


def output(name: str) -> Output[Any]:
    """The output of a name; its module is fetched only now."""
    found: Output[Any] = import_module(f"overbank.outputs.{name}").OUTPUT
    return found


def with_needs(asked: Iterable[str]) -> tuple[str, ...]:
    """The outputs asked for and all that they need, in the order in which they are found.

    Raises
    ------
    DomainError : there is no output of a name
    """
    wanted = set(asked)
    if unknown := sorted(wanted - set(OUTPUTS)):
        raise DomainError(f"only: expected some of {', '.join(OUTPUTS)}; got {', '.join(unknown)!r}. Correct the name")
    for name in reversed(OUTPUTS):
        if name in wanted:
            wanted.update(output(name).needs)
    return tuple(name for name in OUTPUTS if name in wanted)


def find(run: Run, names: Iterable[str], known: Results | None = None) -> Results:
    """The results of these outputs, which hold all that they need; those that are known already are not found again."""
    found: dict[str, Any] = {} if known is None else {name: getattr(known, name) for name in OUTPUTS}
    for name in names:
        if found.get(name) is None:
            each = output(name)
            if each.stage:
                run.report(each.stage)
            found[name] = each.find(run, **{need: found[need] for need in each.needs})
    return Results(**found)
