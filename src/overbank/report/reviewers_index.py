"""The questions that reviewers of such a report ask, each with its answer in the page, a reason, or a visible gap."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

from overbank.outputs.outcome import Outcome
from overbank.outputs.people import RakingFacts
from overbank.report import reviewers_figures as told
from overbank.report.freeboard import has_ledger
from overbank.report.readings import certain_level
from overbank.report.worked import worked
from overbank.site.tailwater import FixedLevel
from overbank.study.records.recorded import recorded
from overbank.study.requirements import UPLIFT
from overbank.words import scaled, share_words

PLACES = {
    "answer": "The answer",
    "statement": "The statement, to be quoted whole",
    "key-figures": "Key figures",
    "blockage": "What blockage does",
    "allowance": "The allowance",
    "receptors": "How deep the water stands where it hurts",
    "freeboard": "Freeboard",
    "look-around": "Look around, on the screen only",
    "floods": "Floods of a year",
    "arrangements-compared": "Arrangements compared",
    "decision-map": "What would change the choice",
    "flood-in-time": "The flood in time",
    "ranking": "What drives it",
    "one-at-a-time": "One input at a time",
    "governs": "What governs",
    "what-if": "What if",
    "worked": "One run by hand",
    "requirements": "The authority's own figures",
    "design": "Usual design checks",
    "people": "People",
    "assumptions": "What was assumed",
    "cautions": "Cautions",
    "reproduce": "How to run it again",
}
"""Places of the page that answer questions, and the headings they stand under: paper has no links."""


class Answer(NamedTuple):
    """Where a question is answered: `link` is a place of the page; without one, `gap` tells a gap from a reason."""

    words: str
    link: str = ""
    gap: bool = False

    @property
    def place(self) -> str:
        """The heading under which the answer stands."""
        return PLACES.get(self.link, "")


Answering = Callable[[Outcome], Answer]


@dataclass(frozen=True)
class Question:
    """A question of reviewers, and how the outcome of a run answers it."""

    group: str
    words: str
    answer: Answering


class Row(NamedTuple):
    """A question with its answer."""

    words: str
    answer: Answer


class Group(NamedTuple):
    """Questions about one thing."""

    title: str
    rows: tuple[Row, ...]


def index(outcome: Outcome) -> tuple[Group, ...]:
    """Every question, in groups."""
    titles = dict.fromkeys(question.group for question in QUESTIONS)
    return tuple(
        Group(title, tuple(Row(each.words, each.answer(outcome)) for each in QUESTIONS if each.group == title))
        for title in titles
    )


def _always(words: str, link: str) -> Answering:
    return lambda _: Answer(words, link)


def _stated(*keys: str) -> Answering:
    """What the study says of itself as a document, as it stands there; a gap where it lacks one of these."""

    def answer(outcome: Outcome) -> Answer:
        document = outcome.study.content.document
        said = {key: getattr(document, key) for key in keys}
        words = "; ".join(f"{key.replace('_', ' ')}: {text or 'not stated'}" for key, text in said.items())
        return Answer(words, "reproduce") if all(said.values()) else Answer(words, gap=True)

    return answer


def _purpose(outcome: Outcome) -> Answer:
    return Answer(
        f"overtopping at {outcome.place} against an accepted probability of {share_words(outcome.target)}; the checks "
        "say whether more samples would change it",
        "answer",
    )


def _basis_of_flow(outcome: Outcome) -> Answer:
    gaps = [name for name in outcome.problem.gaps() if name.startswith("flow.")]
    if gaps:
        return Answer("the flow has no basis in the study file", gap=True)
    return Answer(told.flow(outcome), "floods" if outcome.annual else "assumptions")


def _other_floods(outcome: Outcome) -> Answer:
    if outcome.annual is None:
        return Answer("the study gives one design flood and no annual maxima, so no other flood was run", gap=True)
    ends = [f"{share_words(line.annual_probability)} {line.flow:.3g} m³/s" for line in outcome.annual.lines]
    return Answer(f"floods from {ends[0]} to {ends[-1]}; {told.chances(outcome)}", "floods")


def _kinds(outcome: Outcome) -> Answer:
    if outcome.annual is None:
        return Answer("told apart in the register; with one design flood they are sampled together", "assumptions")
    return Answer("two loops: floods that come anew, and what is not known in all of them", "floods")


def _chances(outcome: Outcome) -> Answer:
    if outcome.annual is None:
        return Answer(f"{told.chances(outcome)}; the study gives no annual maxima", "key-figures")
    return Answer(told.chances(outcome), "key-figures")


def _together(*words: str) -> Answering:
    """What is stated of two kinds of numbers going together."""

    def answer(outcome: Outcome) -> Answer:
        found = told.pairs(outcome, *words)
        if not found:
            return Answer("no dependence is stated: taken as independent, which nobody has shown", gap=True)
        return Answer(f"rank correlation of {found}", "assumptions")

    return answer


def _with_the_flow(outcome: Outcome) -> Answer:
    """The water below: by the model itself where it follows the flow, and what is stated beside that."""
    stated = told.pairs(outcome, "tailwater.", "flow.")
    beside = f"rank correlation of {stated}" if stated else "what is uncertain of it is taken independent of the flow"
    if not isinstance(outcome.problem.site.tailwater, FixedLevel):
        return Answer(f"yes: in every sample it follows the flow, by normal depth or a rating; {beside}", "assumptions")
    return _together("tailwater.", "flow.")(outcome)


def _independent(outcome: Outcome) -> Answer:
    found = told.independent(outcome)
    return Answer(found, "what-if") if found else Answer("no dependence is stated, so that there is none to leave out")


def _ordinary_test(outcome: Outcome) -> Answer:
    if not math.isfinite(certain_level(outcome)):
        return Answer("there is no level with every number at its median")
    return Answer(told.rougher(outcome), "what-if")


def _compared(outcome: Outcome) -> Answer:
    if outcome.comparison is None:
        return Answer("the study has no alternative, so there is no before and after", gap=True)
    return Answer(told.worse_off(outcome), "arrangements-compared")


def _unscreened(outcome: Outcome) -> Answer:
    found = told.unscreened(outcome)
    return Answer(found, "arrangements-compared") if found else Answer("no alternative takes a screen away")


def _uplift(outcome: Outcome) -> Answer:
    asked = () if outcome.requirements is None else outcome.requirements.lines
    if any(line.about == UPLIFT for line in asked):
        return Answer(
            "the authority's uplift against what the site bears, never merged into the spread", "requirements"
        )
    if factor := told.climate(outcome):
        return Answer(factor, "what-if")
    if allowance := outcome.study.content.document.climate_allowance:
        return Answer(allowance, "statement")
    return Answer("no allowance is told apart: if the flow holds one, its basis in the register must say so", gap=True)


def _designed(outcome: Outcome) -> Answer:
    if not outcome.checks.figures:
        return Answer("there is neither culvert nor bridge")
    return Answer(told.sizes(outcome), "design")


def _at_once(outcome: Outcome) -> Answer:
    if outcome.requirements is None:
        return Answer("the study names no figures of an authority")
    found = told.at_once(outcome)
    return Answer(found or "fewer than two of its figures can be held in one run", "requirements")


def _governing(outcome: Outcome) -> Answer:
    return Answer(told.governing(outcome), "governs")


def _roughness(outcome: Outcome) -> Answer:
    found = told.named(outcome, "manning_n")
    if not found:
        return Answer("there is no roughness in the study")
    own = [item for item in found if item.uncertain] or found
    return Answer(told.several([told.short(item) for item in own]), "assumptions")


def _tailwater(outcome: Outcome) -> Answer:
    return Answer(told.tailwater(outcome), "assumptions")


def _left_out(outcome: Outcome) -> Answer:
    return Answer(told.left_out(outcome), "what-if" if told.sized(outcome) else "cautions")


def _downstream(outcome: Outcome) -> Answer:
    if sum(each.full is not None for each in outcome.people) < 2:
        return Answer("no other culvert is in the study: hold it against the next one downstream by hand", gap=True)
    return Answer("the sizes of all culverts of the study", "assumptions")


def _how_blocked(outcome: Outcome) -> Answer:
    if outcome.blockage is None:
        return Answer("the study takes the blockage as certain or has none", gap=True)
    return Answer(told.allowed(outcome), "allowance")


def _does_it_matter(outcome: Outcome) -> Answer:
    if outcome.blockage is None:
        return Answer("no blockage is uncertain in this study", gap=True)
    return Answer(told.blocking(outcome), "blockage")


def _pattern(outcome: Outcome) -> Answer:
    names = [*outcome.problem.inputs.names, *outcome.problem.fixed]
    if not any(name.endswith(".pattern") for name in names):
        return Answer("there is nothing that can be blocked")
    return Answer(told.several([told.short(item) for item in told.named(outcome, ".pattern")]), "assumptions")


def _blocked_before(outcome: Outcome) -> Answer:
    if recorded(outcome.problem.inputs):
        return Answer("inspection records, prior beside posterior", "blockage")
    return Answer("no inspection record is given: the blockage rests on what the register says", gap=True)


def _raking(outcome: Outcome) -> list[RakingFacts]:
    """What is known of how every screen is raked."""
    return [each.raking for each in outcome.people if each.raking is not None]


def _why_bars(outcome: Outcome) -> Answer:
    if not _raking(outcome):
        return Answer("there is no screen")
    return Answer(f"both sides without a verdict; held: {told.held(outcome)}", "people")


def _who_clears(outcome: Outcome) -> Answer:
    facts = _raking(outcome)
    if not facts:
        return Answer("there is no screen")
    crews = told.crews(outcome)
    if any(each.platform_level_m is None for each in facts):
        known = f"; {crews} (under “{PLACES['flood-in-time']}”)" if crews else ""
        return Answer(f"the study does not say where a screen is raked from{known}", gap=True)
    if crews:
        return Answer(crews, "flood-in-time")
    return Answer("what is known of raking, and whether the platform is under water", "people")


def _pinned(outcome: Outcome) -> Answer:
    if not outcome.people:
        return Answer("there is no culvert and no bridge with a road or a bank")
    barrels = any(each.full is not None for each in outcome.people)
    other = f"there are no bars: {'what the barrel does' if barrels else 'the water over road and bank'}"
    return Answer(told.held(outcome) or other, "people")


def _freeboard(outcome: Outcome) -> Answer:
    if not has_ledger(outcome):
        return Answer("there is no level at the medians, or none that holds with the assurance", gap=True)
    return Answer(told.freeboard(outcome), "freeboard")


def _look_around(outcome: Outcome) -> Answer:
    if outcome.panel is None:
        return Answer("no sample has a level")
    if outcome.decision_map is None:
        return Answer("read off for other banks, targets and blockages", "look-around")
    return Answer(told.order(outcome), "decision-map")


def _judged(outcome: Outcome) -> Answer:
    gaps = outcome.problem.gaps()
    if gaps:
        return Answer(f"{len(gaps)} of the varied numbers have no basis: {', '.join(gaps)}", gap=True)
    judged = sum(item.uncertain and item.evidence == "judgement" for item in outcome.problem.assumptions)
    return Answer(f"{judged} of {outcome.problem.inputs.dimension} varied numbers rest on judgement", "assumptions")


def _drives(outcome: Outcome) -> Answer:
    if outcome.drivers.level is None and outcome.drivers.given is None:
        return Answer("the indices were refused; the notes there say why", "ranking")
    return Answer(told.strongest(outcome), "ranking")


def _blocked_in_full(outcome: Outcome) -> Answer:
    if outcome.allowances is None:
        return Answer("no blockage is uncertain in this study", gap=True)
    return Answer(f"{told.all_blocked(outcome)}; where the water then goes is not modelled", "allowance")


def _how_deep(outcome: Outcome) -> Answer:
    where = "the study names no receptor" if outcome.receptors is None else "depth over each receptor"
    if (flood := outcome.through_flood) is not None:
        over = scaled(flood.best.figures["mean_hours_over_bank"], 1.0, "hours").value
        return Answer(f"{where}; over the bank for {over} in the mean of all floods", "flood-in-time")
    words = f"{where}; one flood peak is modelled, so no duration is known"
    return Answer(words, gap=True) if outcome.receptors is None else Answer(words, "receptors")


def _by_hand(outcome: Outcome) -> Answer:
    refusal = worked(outcome).refusal
    if refusal:
        return Answer(refusal, gap=True)
    return Answer("the run at the medians, step by step", "worked")


QUESTIONS = (
    Question("scope", "Which decision does this serve, and is the effort enough for it?", _purpose),
    Question(
        "scope",
        "Were scope and floods agreed beforehand, and was the site seen?",
        _stated("scope_agreed", "site_visit"),
    ),
    Question("flow", "Which flood, where from, how uncertain, and is it the one that was run?", _basis_of_flow),
    Question("flow", "What of smaller and larger floods?", _other_floods),
    Question("flow", "Is there a climate allowance, and which?", _uplift),
    Question("tailwater", "What sets the level downstream?", _tailwater),
    Question("tailwater", "Does it rise together with the flow?", _with_the_flow),
    Question(
        "roughness",
        "Where do the n values come from, and how far may they be out?",
        _roughness,
    ),
    Question("roughness", "What if one of them, or all, are well off?", _ordinary_test),
    Question(
        "structure",
        "Is the survey current, and on which datum?",
        _stated("survey", "datum"),
    ),
    Question(
        "structure",
        "Does inlet or outlet govern, and are the formulas within their limits?",
        _governing,
    ),
    Question("structure", "Does a proposal make anybody worse off?", _compared),
    Question("structure", "Do size, air and headroom meet what is asked?", _designed),
    Question("structure", "Are the authority's figures met together, and at the allowance?", _at_once),
    Question("structure", "Is it smaller than the next one downstream?", _downstream),
    Question("blockage", "Can it block, and would that matter?", _does_it_matter),
    Question("blockage", "How much is allowed for, why that much, and was the whole range looked at?", _how_blocked),
    Question("blockage", "Where on the opening does it form?", _pattern),
    Question("blockage", "Does it come with the flood?", _together("flow.", "blockage")),
    Question("blockage", "What if nothing depended on anything?", _independent),
    Question("blockage", "Has it been blocked before?", _blocked_before),
    Question("screens and people", "What do bars do for and against people?", _why_bars),
    Question("screens and people", "Who clears them, and can they be reached in a flood?", _who_clears),
    Question("screens and people", "Without the screen, what is no longer caught?", _unscreened),
    Question("screens and people", "What could hold a person, or stop a rescue?", _pinned),
    Question("freeboard", "How much is there, above which level, and what does it cover?", _freeboard),
    Question("uncertainty", "What varies from flood to flood, and what is only not known?", _kinds),
    Question("uncertainty", "How sure in the named flood, how likely in a year and over many?", _chances),
    Question("uncertainty", "Whose judgement is each distribution?", _judged),
    Question("sensitivity", "What drives the answer?", _drives),
    Question("sensitivity", "Would another bank, target or blockage change the decision?", _look_around),
    Question("residual risk", "What if all is blocked, or the flood is larger?", _blocked_in_full),
    Question(
        "residual risk",
        "How deep, how long, and whom does it reach?",
        _how_deep,
    ),
    Question(
        "reproducibility",
        "Can it be run again with every assumption in sight?",
        _always("study file, seed, versions and one command", "reproduce"),
    ),
    Question("reproducibility", "Can somebody check it without the program?", _by_hand),
    Question("reproducibility", "What is left out, and which way does it move the level?", _left_out),
    Question(
        "reproducibility", "Who made it, who checked it, which revision?", _stated("author", "checker", "revision")
    ),
)
"""The questions, in the order in which they are asked."""
