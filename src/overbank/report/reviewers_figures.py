"""The figures with which the reviewer's index answers, in one line each."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from overbank.outputs.outcome import Outcome
from overbank.outputs.requirements import barrel_sizes
from overbank.outputs.variations import BACKED_UP, DRIER, NARROWER, WETTER, Variation
from overbank.report.arrangements import alike
from overbank.report.names import plain_name
from overbank.report.one_at_a_time import tests
from overbank.report.people import measured
from overbank.report.readings import SHARED_OUT, at_end, bank_levels, share_of, shared_out
from overbank.report.tables import regimes
from overbank.site.moving_bed import fastest_reach
from overbank.site.numbers import CLIMATE, FLOW
from overbank.study.build import build
from overbank.study.collect import Assumption
from overbank.words import change, measure, rounded, share_words

MOST = 4
"""Items told in one line; the others are counted."""


def several(items: list[str]) -> str:
    """The first few items, and how many more there are."""
    more = f"; and {len(items) - MOST} more" if len(items) > MOST else ""
    return "; ".join(items[:MOST]) + more


def named(outcome: Outcome, *ends: str) -> list[Assumption]:
    """Numbers of the register whose dotted names end so."""
    return [item for item in outcome.problem.assumptions if item.name.endswith(ends)]


def with_basis(item: Assumption) -> str:
    """A number in words with what it rests on."""
    return f"{item.words}: {item.basis or 'no basis stated'} ({item.evidence or 'evidence not stated'})"


def short(item: Assumption) -> str:
    """A number by its place, in words."""
    known = plain_name(item.name)
    return f"{known.group}, {known.in_full} {item.words}"


def flow(outcome: Outcome) -> str:
    """The flow that was run, and what it rests on."""
    return with_basis(named(outcome, FLOW)[0])


def climate(outcome: Outcome) -> str:
    """The factor for a climate to come, and what it does; empty where there is none."""
    found = named(outcome, CLIMATE)
    return "" if not found else f"{with_basis(found[0])}{_without(outcome, 'the climate as it was')}"


def tailwater(outcome: Outcome) -> str:
    """What sets the level below: what is varied of it, or all of it where nothing is."""
    every = [item for item in outcome.problem.assumptions if item.name.startswith("tailwater.")]
    return several([short(item) for item in [item for item in every if item.uncertain] or every])


def pairs(outcome: Outcome, *words: str) -> str:
    """The dependences stated between numbers whose names hold these words; empty without any."""
    found = [
        f"{' with '.join(each.between)} {each.rank_correlation:+g}".replace("-", "\u2212")
        for each in outcome.problem.dependences
        if all(any(word in name for name in each.between) for word in words)
    ]
    return several(found)


def independent(outcome: Outcome) -> str:
    """What comes of taking every number as independent; empty where that was not looked at."""
    return _without(outcome, "no number depends on another").removeprefix("; ")


def rougher(outcome: Outcome) -> str:
    """What comes of all roughnesses a fifth higher, and of the one that moves the level most."""
    found = _varied(outcome, "every roughness 20\u00a0% higher")
    all_of_them = "" if found is None else f"all of them 20\u00a0% higher: {_moved(found)}"
    alone = None if outcome.one_at_a_time is None else tests(outcome)
    swings = () if alone is None else alone.swings
    most = next((line for line in swings if line.path.endswith("manning_n")), None)
    one = "" if most is None else f"{most.words} from its 10 to its 90\u00a0% value: {' and '.join(most.changes)}"
    return "; ".join(filter(None, (all_of_them, one))) or "no single roughness moves the level by 5\u00a0mm"


def _varied(outcome: Outcome, name: str) -> Variation | None:
    return next((each for each in outcome.variations or () if each.name == name), None)


def _without(outcome: Outcome, name: str) -> str:
    found = _varied(outcome, name)
    return "" if found is None else f"; {name}: {_moved(found)}"


def _moved(found: Variation) -> str:
    assert found.more is not None
    assert found.higher is not None
    over, level = change(found.more, "p"), change(found.higher, "m")
    return f"overtopping {rounded(found.probability, 'p').value} ({over.value}), level {level.value}"


def governing(outcome: Outcome) -> str:
    """The commonest state of each structure."""
    found = [f"{each.element}: {each.regimes[0].words} {each.regimes[0].share}" for each in regimes(outcome)]
    outside = sum(remark.share > 0.0 for remark in outcome.remarks or ())
    return f"{several(found)}; remarks on ranges: {outside}"


def worse_off(outcome: Outcome) -> str:
    """How often each alternative stands higher than the site as it is."""
    found = () if outcome.comparison is None else outcome.comparison.arrangements
    same = () if outcome.comparison is None else alike(outcome)
    said = []
    for each in found:
        if (difference := each.difference) is not None and each.name not in same:
            beyond = difference.beyond
            more = "" if beyond is None else f", beyond the tolerated rise in {rounded(beyond, 'p').value}"
            said.append(f"“{each.name}” higher in {rounded(difference.higher, 'p').value} of the samples{more}")
    return several([*said, *([f"{len(same)} with the same levels in a steady flood"] if same else [])])


def sizes(outcome: Outcome) -> str:
    """Figures of the usual checks that are below what they are set against, in one run."""
    figures = outcome.checks.figures
    less = [each for each in figures if each.certain < each.asked]
    told = [f"{each.words}, “{each.element}”, {measure(each.certain - each.asked, each.unit)}" for each in less]
    return f"{len(less)} of {len(figures)} figures below what they are set against{': ' if told else ''}{several(told)}"


def at_once(outcome: Outcome) -> str:
    """The authority's uplift, blockage and freeboard together, and at the allowance."""
    found = () if outcome.requirements is None else outcome.requirements.at_once
    return several([f"{each.words}: {measure(each.spare, 'm', signed=True)} to spare" for each in found])


def blocking(outcome: Outcome) -> str:
    """Overtopping clean and shut."""
    assert outcome.blockage is not None
    curve = outcome.blockage.fixed
    ends = [f"{share_words(curve.at[k])} blocked: {rounded(at_end(curve, k), 'p').value}" for k in (0, -1)]
    return f"overtopping with {', '.join(ends)}"


def allowed(outcome: Outcome) -> str:
    """Allowance, largest blockage, and what the model of the blockage rests on."""
    found = outcome.blockage
    assert found is not None
    largest, allowance = (rounded(each, "%") for each in (found.largest, found.allowance))
    rests = next((item for item in outcome.problem.assumptions if item.name == found.name), None)
    basis = "" if rests is None else f"; assumed: {with_basis(rests)}"
    return f"allowance {allowance.value}; largest within the target {largest.value}{basis}"


def held(outcome: Outcome) -> str:
    """The strongest hold on a person at each structure, at the median of the samples."""
    said = []
    for each in outcome.people:
        forces = [figure for figure in each.figures if figure.unit == "N"]
        if forces:
            most = max(forces, key=lambda figure: figure.quantiles[0.5].value)
            said.append(f"“{each.element}”: {most.words}, median {measured(most.quantiles[0.5].value, 'N')}")
    return several(said)


def crews(outcome: Outcome) -> str:
    """How often the flood goes over with nobody at work and with each crew of the study; empty where none is sent."""
    flood, own = outcome.through_flood, outcome.study.content.flow.crew
    if flood is None:
        return ""
    sent = [] if flood.crew is None else [("the crew of the study", flood.crew.over)]
    for each in flood.policies:
        theirs = outcome.study.alternatives[each.name].flow.crew
        if theirs is not None and theirs != own:
            sent.append((f"“{each.name}”", each.over))
    said = several([f"{words} {rounded(over, 'p').value}" for words, over in sent])
    return f"over the bank with nobody at work {rounded(flood.nobody.over, 'p').value}; {said}" if said else ""


def freeboard(outcome: Outcome) -> str:
    """The median bank above the level of the assurance."""
    level = outcome.headwater.quantiles[outcome.assurance].value
    bank = float(np.median(bank_levels(outcome)))
    above = measure(bank - level, "m", signed=True)
    assured = share_words(outcome.assurance)
    return f"{above} from the level with {assured} assurance up to the median bank {bank:.2f}\u00a0m"


def chances(outcome: Outcome) -> str:
    """In the design flood, the same passed in time, in a year, over the life."""
    said = [f"in the design flood {rounded(outcome.overtopping.best, 'p').value}"]
    if (flood := outcome.through_flood) is not None:
        said.append(f"passed in time {rounded(flood.best.over, 'p').value}")
    if outcome.annual is not None:
        said.append(f"in a year {rounded(outcome.annual.probability, 'p').value}")
        if (life := outcome.annual.life) is not None:
            said.append(f"over {life.years} years {rounded(life.probability, 'p').value}")
    return f"overtopping {', '.join(said)}"


def strongest(outcome: Outcome) -> str:
    """The inputs with the largest shares of the level's variance."""
    found = shared_out(outcome)
    if found is None:
        return "the level's variance could not be shared out"
    table, kind = found
    inputs = set(table["input"])
    shares = {name: share_of(table, name, kind).value for name in outcome.problem.inputs.names if name in inputs}
    most = sorted((name for name in shares if math.isfinite(shares[name])), key=lambda name: -shares[name])[:3]
    told = (f"{plain_name(name).in_full} {100.0 * shares[name]:.0f}\u00a0%" for name in most)
    return f"of the level's variance, {SHARED_OUT[kind]}: {', '.join(told)}"


def order(outcome: Outcome) -> str:
    """Whether the arrangement that goes over least often is the same under other debris, dependence and banks."""
    every = outcome.decision_map or ()
    told = [each for each in every if each.told]
    first, turns = {each.least for each in told}, sum(each.turn is not None for each in every)
    said = "the order changes" if first else "none can be told from the next"
    if len(first) == 1:
        said = f"“{first.pop()}” goes over least often"
    return (
        f"{said}, told in {len(told)} of {len(every)} assumptions of debris and dependence; another bank changes the "
        f"order in {turns} of them"
    )


def all_blocked(outcome: Outcome) -> str:
    """The level of one run with nothing open."""
    assert outcome.blockage is not None
    share, level = max(outcome.blockage.levels.items())
    return f"one run with {share_words(share)} blocked: {measure(level, 'm')}"


def unscreened(outcome: Outcome) -> str:
    """Alternatives that take a screen away, and what is then no longer caught; empty where none does."""
    return several([words for name in outcome.study.alternatives for words in lost_screens(outcome, name)])


def lost_screens(outcome: Outcome, name: str) -> Iterator[str]:
    """Of one alternative: each screen that it takes away, the gap that caught, and the barrel that now takes it all."""
    changed = build(outcome.study.alternative(name))
    before, after = outcome.problem.medians(), changed.medians()
    for each in outcome.problem.site.elements:
        caught = f"{each.id}.screen.gap_m"
        sizes = barrel_sizes(after, each.id).values()
        if caught not in before or caught in after or not sizes:
            continue
        gap = float(np.ravel(before[caught])[0])
        inside = f"{each.id}.blockage"
        blocked = inside in changed.inputs.names or changed.fixed.get(inside, 0.0) > 0.0
        modelled = "" if blocked else ", and no blockage inside it is in the figures"
        yield (
            f"“{name}”: what the bars of “{each.id}”, {gap:.3g}\u00a0m apart, caught goes into a barrel "
            f"{min(sizes):.2f}\u00a0m at its narrowest, people and long pieces too; what lodges inside cannot be "
            f"raked{modelled}"
        )


def left_out(outcome: Outcome) -> str:
    """What is not in the figures, which way each would move the level, and by how much for a measure of it."""
    less, more, below, silt = (_sized(outcome, name) for name in (DRIER, WETTER, BACKED_UP, NARROWER))
    waves, scour = _in_a_reach(outcome)
    return "; ".join(
        (
            f"lower at the peak: storage, water that leaves elsewhere{less}",
            f"either way: rating of the gauge, family of the flood distribution{more}",
            f"higher: a second blockage downstream{below}",
            f"higher: silting of an opening{silt}",
            f"higher: waves{waves}",
            f"lower while all stands, for scour deepens the bed{scour}",
            "either way, not sized, for nothing here models it: structural failure, by scour too",
        )
    )


def sized(outcome: Outcome) -> bool:
    """Whether the sizes of what is left out are those of assumptions changed."""
    return any(_sized(outcome, name) for name in (DRIER, WETTER, BACKED_UP, NARROWER))


def _in_a_reach(outcome: Outcome) -> tuple[str, str]:
    """The sizes of waves and of scour, by one run in the reach with the fastest water."""
    found = fastest_reach(outcome.deterministic)
    if found is None:
        none = ", not sized, for the study models no reach whose velocity would tell"
        return none, none
    place, stone = f"“{found.element}” at the medians", f"{1000.0 * found.stone:.2g}"
    stopped = f" (water stopped by a wall in {place} stands up by its velocity head, {measure(found.stopped, 'm')})"
    moves = f"{measure(found.velocity, 'm/s')}, {measure(found.depth, 'm')} deep"
    return stopped, f" (in {place}, {moves}, the water moves loose stones up to {stone}\u00a0mm)"


def _sized(outcome: Outcome, name: str) -> str:
    """What a change moves the level of the assurance by; nothing where that was not looked at."""
    size = _varied(outcome, name)
    if size is None or size.higher is None:
        return ""
    return f" ({name} moves the level by {change(size.higher, 'm').value})"
