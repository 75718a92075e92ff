"""What stands below each figure, and what is said of it to readers who do not see it."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate
from overbank.analysis.sensitivity import DUMMY, Indices
from overbank.outputs.outcome import Outcome
from overbank.report.along import drawn_inputs
from overbank.report.arrangements import compared_of
from overbank.report.cross_sections import level_words, shown
from overbank.report.frequency import annual_of
from overbank.report.learnt import known
from overbank.report.names import plain_name
from overbank.report.passing import through_of
from overbank.report.placed import placed_of
from overbank.report.ranking import MOST, acting, noise_floor
from overbank.report.readings import bank_levels, blocked_words, certain_level, road_level, two_figures
from overbank.report.surveys import lines, surveys_of
from overbank.site.long_section import DRAWN_LENGTH
from overbank.words import rounded, share_words


class Caption(NamedTuple):
    """Title and text below a figure, and its description in words."""

    title: str
    text: str
    described: str


def exceedance(outcome: Outcome) -> Caption:
    """Caption of the exceedance curve."""
    curve, banks = outcome.headwater.curve, bank_levels(outcome)
    text = (
        f"Read upwards from a level to the curve: that is the probability that the water upstream of "
        f"{outcome.place} stands higher in the design flood. {_band_words(curve)}"
    )
    if np.ptp(banks) > 0.0:
        text += " The bank is uncertain too, so the probability of overtopping is not read where the curve passes it."
    word, road = road_level(outcome)
    if math.isfinite(road) and not curve.at[0] <= road <= curve.at[-1]:
        text += f" The {word} stands at {road:.2f} m, outside the levels reached."
    levels = [f"{100.0 * (1.0 - share):.4g} % at {rounded(level, 'm').value}" for share, level in _read(outcome)]
    described = f"Curve falling as the level rises. Probability of standing higher: {', '.join(levels)}. "
    described += f"The bank stands at {np.median(banks):.2f} m"
    level = certain_level(outcome)
    described += f", the run at the medians at {level:.2f} m." if math.isfinite(level) else "."
    text += _note_words(curve, outcome.headwater.plain)
    return Caption(f"How high the water stands upstream of {outcome.place}.", text, described)


def _read(outcome: Outcome) -> list[tuple[float, Estimate]]:
    return [(share, level) for share, level in outcome.headwater.quantiles.items() if math.isfinite(level.value)]


def _note_words(*curves: Curve) -> str:
    """What the curves themselves have to say, once each."""
    notes = dict.fromkeys(curve.note for curve in curves if curve.note)
    return "".join(f" Note: {note}." for note in notes)


def _band_words(curve: Curve) -> str:
    """How wide the 95 % band is at most."""
    half = 50.0 * float(np.nanmax(curve.high - curve.low)) if np.any(np.isfinite(curve.low)) else math.nan
    if math.isnan(half):
        return "One replicate gives no band."
    hidden = ", which the line hides" if half < 0.4 else ""
    step = 10.0 ** math.floor(math.log10(half)) if half > 0.0 else 1.0
    most = f"{math.ceil(half / step) * step:.6g}"
    return f"The 95 % band is nowhere wider than ± {most} percentage points{hidden}."


def overtopping_by_blockage(outcome: Outcome) -> Caption:
    """Caption of the blockage curve."""
    blocked = outcome.blockage
    assert blocked is not None
    text = (
        f"The full line sets the blocked share of {blocked_words(blocked.name)} and leaves everything else as "
        f"uncertain as it is. {_band_words(blocked.fixed)}"
    )
    if blocked.given is not None:
        text += (
            " The dashed line tells what a share found in a flood says: blockage depends on other inputs here, so "
            "finding it makes some of them more likely. The largest blockage is read off the full line."
        )
    picks = np.unique(np.round(np.linspace(0, blocked.fixed.at.size - 1, 6)).astype(int))
    points = [
        f"{100.0 * blocked.fixed.at[i]:.0f} % blocked: {100.0 * blocked.fixed.probability[i]:.3g} %" for i in picks
    ]
    described = (
        f"Rising curve of the probability of overtopping. {', '.join(points)}. Target {share_words(outcome.target)}."
    )
    text += _note_words(blocked.fixed, *(() if blocked.given is None else (blocked.given,)))
    return Caption("What a blockage does to the probability of overtopping.", text, described)


def blockage_distribution(outcome: Outcome) -> Caption:
    """Caption of the assumed blockage."""
    assert outcome.blockage is not None
    name = outcome.blockage.name
    inputs = outcome.problem.inputs
    item = inputs.items[inputs.index(name)]
    evidence = next(each.evidence for each in outcome.problem.assumptions if each.name == name)
    text = (
        f"{item.distribution.words[0].upper()}{item.distribution.words[1:]}. Where it comes from: "
        f"{item.basis or 'nobody says; this is a gap'}. How well known: {evidence or 'not stated'}."
    )
    described = (
        f"Rising curve of the probability of a blocked share or less; mean {100.0 * item.distribution.mean:.0f} %, "
        f"median {100.0 * item.distribution.median:.0f} %. {item.distribution.words}."
    )
    return Caption(f"What is assumed of the blockage of {blocked_words(name)}.", text, described)


def drivers(outcome: Outcome) -> Caption:
    """Caption of the ranking."""
    active, idle = acting(outcome)
    text = (
        "Each dot is the share of the variance that would go if the input were known; each diamond counts what it does "
        "together with others too. Whiskers are 95 % intervals, often narrower than the mark. What lies in the grey "
        "noise floor cannot be told from an input that does nothing."
    )
    if len(active) > MOST:
        text += f" The {len(active) - MOST} weakest inputs are in the table only."
    if idle and active:
        text += f" Without any effect at {outcome.place}: {', '.join(idle)}."
    parts = [
        f"{what}: {_ranked(indices)}"
        for what, indices in (("level", outcome.drivers.level), ("overtopping", outcome.drivers.overtopping))
        if indices is not None
    ]
    described = "Total indices, strongest first. " + ". ".join(parts) if parts else "No indices could be found"
    return Caption("What drives the level, and what drives the overtopping.", text, described + ".")


def _ranked(indices: Indices) -> str:
    table = indices.table[indices.table["input"] != DUMMY].sort_values("total", ascending=False).head(5)
    named = [f"{plain_name(str(row.input)).in_full} {100.0 * float(row.total):.0f} %" for row in table.itertuples()]  # type: ignore[arg-type]
    return f"{', '.join(named)}; noise floor {two_figures(100.0 * noise_floor(indices))} %"


def cross_sections(outcome: Outcome) -> Caption:
    """Caption of the plan and of the sections across."""
    text = (
        "Numbers at their medians; heights and widths of a section at scales of their own. Offsets are those of a "
        "survey where there is one. Openings and barrels are laid side by side: where they stand across the stream, "
        "how thick the piers are, and the ground beside barrels, are not in a study."
    )
    told = [f"{each.outline.id}, {each.outline.kind}: {level_words(each)}" for each in shown(placed_of(outcome))]
    return Caption("The site in plan and across the flow.", text, f"{'; '.join(told)}.")


def long_section(outcome: Outcome) -> Caption:
    """Caption of the long section."""
    text = (
        "Looking across the stream, which flows from right to left. The dashed line is the run with every input at its "
        "median; the bands hold the middle 50 and 90 % of the samples at each place, so no single flood follows their "
        "edge. A barrel that runs full shows its pressure level. Beyond both ends the bed and water are drawn level."
    )
    elements = outcome.problem.site.elements
    across = dict.fromkeys(element.kind for element in elements if not element.has_length)
    if across:
        text += f" A {' and a '.join(across)} has no length along the stream here and is drawn {DRAWN_LENGTH:g} m long."
    text += "".join(f" {note}" for note in dict.fromkeys(note for each in elements for note in each.drawing_notes()))
    endless = float(np.mean(np.isposinf(outcome.samples.levels)))
    if endless > 0.0:
        text += f" In {two_figures(100.0 * endless)} % of the samples there is no way through at {outcome.place}."
    places = [
        f"{element.id} {element.level[0]:.2f} m"
        for element in outcome.deterministic.elements
        if math.isfinite(element.level[0])
    ]
    described = f"Long section. Water upstream of each element, every input at its median: {', '.join(places)}."
    return Caption("The site in long section.", text, described)


def arrangements(outcome: Outcome) -> Caption:
    """Caption of the arrangements' curves."""
    compared = compared_of(outcome)
    text = (
        f"Exceedance of the level upstream of {compared.place} in the design flood, for the site as it stands and for "
        "each alternative. All run on the same random numbers, so that the gap between two curves is known better "
        "than either curve."
    )
    levels = [f"{each.name} {rounded(each.assured, 'm').value}" for each in compared.arrangements]
    described = f"One falling curve each. Level with {share_words(outcome.assurance)} assurance: {', '.join(levels)}."
    return Caption("The arrangements compared.", text, described)


def frequency(outcome: Outcome) -> Caption:
    """Caption of the floods of a year and their levels."""
    annual = annual_of(outcome)
    text = (
        "Above, the floods of the river, on a logarithmic scale. Below, the annual "
        f"probability that the water upstream of {outcome.place} stands higher than a level, by the threshold method "
        f"over the flow. {_band_words(annual.frequency.expected)} The shaded band is what is not known of the site and "
        "of the flood distribution, which more sampling does not narrow."
    )
    flows = [f"{share_words(line.annual_probability)}: {line.flow:.3g} m³/s" for line in annual.lines]
    described = (
        f"Two rising curves. Flow exceeded in a year with {', '.join(flows)}. Annual probability of overtopping "
        f"{rounded(annual.probability, 'p').value}."
    )
    return Caption("Floods of a year and the levels they bring.", text, described)


def surveys(outcome: Outcome) -> Caption:
    """Caption of what each survey narrows."""
    text = (
        "Left, the width of the band that holds the level with 90 %: today, and on average after each survey. Right, "
        "one standard deviation of the probability of overtopping over what each survey may find."
    )
    parts = [
        f"{line.words} narrows the band by {line.narrowing.value}, may move the probability by {line.probability.value}"
        for line in lines(outcome)
    ]
    band = surveys_of(outcome).narrowings[0].band_before
    described = f"A bar a survey. Band today {rounded(band, 'm').value}. {'; '.join(parts)}."
    return Caption("What each survey on offer would narrow.", text, described)


def learnt(outcome: Outcome) -> Caption:
    """Caption of prior beside posterior."""
    assert outcome.learnt is not None
    assert outcome.learnt.taught is not None
    text = (
        "The 5 to 95 % range of each input before, its width taken as 1 and its median as 0, and the range after on "
        "the same scale. What the floods seen do not speak of stays as it was."
    )
    strongest = known(outcome.learnt, outcome.learnt.taught).head(3)
    parts = [
        f"{plain_name(str(row['input'])).in_full} {100.0 * float(row['narrowed']):.0f} %"
        for _, row in strongest.iterrows()
    ]
    described = f"Two bars an input, the most changed first. Share of the spread that has gone: {', '.join(parts)}."
    return Caption("What the floods seen teach.", text, described)


def along_inputs(outcome: Outcome) -> Caption:
    """Caption of the curves along the inputs."""
    text = (
        "The inputs that act most, each along its own values: above the mean level, below the probability of "
        "overtopping, everything else as uncertain as it is. They are means in bins of the samples; where inputs "
        "depend on each other a curve says what learning the input tells, partners included. effects.csv holds all."
    )
    level = {each.input: each for each in outcome.drivers.effects.get("level", ())}
    parts = [
        f"{plain_name(name).in_full}: from {level[name].mean[0]:.2f} m to {level[name].mean[-1]:.2f} m"
        for name in drawn_inputs(outcome)
        if name in level
    ]
    return Caption("Level and overtopping along the inputs.", text, f"Mean level: {'; '.join(parts)}.")


def course_of_flood(outcome: Outcome) -> Caption:
    """Caption of the flood from moment to moment."""
    course = through_of(outcome).course
    text = (
        "Level, flow and blockage while the flood passes. At each moment the median of the first samples and the band "
        "that holds nine in ten of them: no single flood runs along a line."
    )
    top, first, last = int(np.nanargmax(course.level[1])), course.blockage[1][0], course.blockage[1][-1]
    described = (
        f"Median flow at most {np.nanmax(course.flow[1]):.2f} m³/s after {course.hours[np.argmax(course.flow[1])]:.1f} "
        f"hours; median level at most {course.level[1][top]:.2f} m after {course.hours[top]:.1f} hours; median blocked "
        f"share {100.0 * first:.0f} % at the beginning, {100.0 * last:.0f} % at the end."
    )
    return Caption("The flood in time.", text, described)


def hours_over_bank(outcome: Outcome) -> Caption:
    """Caption of the distribution of the time over the bank."""
    curve = through_of(outcome).best.hours_over
    text = "How long the water stands over the bank, as the study has it, with the 95 % band of the sampling."
    at = [float(np.interp(hours, curve.at, curve.probability)) for hours in (0.0, 0.5 * float(curve.at[-1]))]
    described = f"Longer than no time at all: {at[0]:.1%}; longer than {0.5 * curve.at[-1]:.1f} hours: {at[1]:.1%}."
    return Caption("Time over the bank.", text, described)


def warning_by_travel(outcome: Outcome) -> Caption:
    """Caption of the warning time against the travel time."""
    found = through_of(outcome).by_travel
    assert found is not None
    text = (
        "How often the crew works before the bank is reached, among the floods that reach it with nobody at work: it "
        "comes, arrives, and water, current and daylight let it; and how often the water goes over the bank with the "
        "crew so far away; with 95 % bands."
    )
    in_time, over = found.in_time, found.over
    at = (f"{hours:g} hours {share.value:.0%} and {over[hours].value:.1%}" for hours, share in in_time.items())
    return Caption("Warning time against travel time.", text, f"In time, and over the bank: {'; '.join(at)}.")


def convergence(outcome: Outcome) -> Caption:
    """Caption of the way of the headline figures."""
    text = (
        "Each headline figure from ever more of the samples, with its 95 % interval. The last is from all of them; the "
        "band about it is as wide as wanted. A figure has settled where half of the samples and all of them agree and "
        "the last interval is no wider than the band."
    )
    return Caption("Are there enough samples?", text, " ".join(each.words for each in outcome.convergence.values()))


CAPTIONS = {
    "arrangements": arrangements,
    "exceedance": exceedance,
    "overtopping_by_blockage": overtopping_by_blockage,
    "blockage_distribution": blockage_distribution,
    "frequency": frequency,
    "course_of_flood": course_of_flood,
    "hours_over_bank": hours_over_bank,
    "warning_by_travel": warning_by_travel,
    "drivers": drivers,
    "surveys": surveys,
    "learnt": learnt,
    "long_section": long_section,
    "cross_sections": cross_sections,
    "convergence": convergence,
    "along_inputs": along_inputs,
}
"""Name of a figure -> its caption."""
