"""What the commands print: progress, the levels of a check with a small long section, the answer of a run."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.markup import escape as without_markup
from rich.table import Table
from rich.text import Text

from overbank.analysis.intervals import Estimate
from overbank.commands.speaking import visible
from overbank.outputs.medians import DeterministicRun
from overbank.site.design_checks import FILLINGS
from overbank.site.long_section import Station
from overbank.site.row import ElementOutcome
from overbank.study.records.recorded import recorded
from overbank.study.slips import slips
from overbank.words import asked_words, cautions, change, measure, rounded, scaled, share_words

if TYPE_CHECKING:  # a check needs none of these
    import pandas as pd

    from overbank.outputs.comparison import Comparison
    from overbank.outputs.outcome import Outcome
    from overbank.outputs.overtopping import Overtopping
    from overbank.study.build import Problem
    from overbank.study.load import Study

HEIGHT = 14
"""Lines of the long section in the terminal."""

LABEL = 9
"""Characters of the levels to its left."""

COLOURS = {"#": "yellow", "=": "white", "_": "white", "-": "green", "~": "blue"}
"""Of the lines of the long section; a terminal without colours shows the characters alone."""

NAMED, LEAST_SHOWN = 3, 0.005
"""So many of the inputs that drive the level are named, and none whose index would be shown as 0.00."""


def escape(text: str) -> str:
    """A text of the user's as it stands: no markup, and nothing that steers the terminal."""
    return without_markup(visible(text))


def show_check(run: DeterministicRun, details: bool = False) -> None:
    """Levels, banks and regimes at the medians, and the long section; with the details, all else that one run tells."""
    console = Console(highlight=False)
    console.print(f"[bold]{escape(run.study.title)}[/bold]")
    console.print(
        f"Every uncertain number at its median: flow {run.outcome.flow[0]:.2f} m³/s, "
        f"tailwater {run.outcome.tailwater[0]:.2f} m."
    )
    table = Table("going upstream", "level", "bank", "freeboard", "what governs", caption="in metres")
    for element in run.outcome.elements:
        table.add_row(*_row(element))
    console.print(table)
    console.print(coloured(drawn(run.stations, console.width)), no_wrap=True, crop=True)
    if details:
        _show_design_checks(console, run)
        _show_influences(console, run)
        _show_people(console, run)
    else:
        _show_short_margins(console, run)
    for remark in run.remarks:
        console.print(f"Note, {escape(remark.element)}: {remark.words}.")
    _show_slips(console, run.study, run.problem)
    gaps = run.problem.gaps()
    if gaps:
        console.print(f"No basis is given for {escape(', '.join(gaps))}.")
    console.print(cautions()[0], style="italic")


def _show_slips(console: Console, study: Study, problem: Problem) -> None:
    """Numbers that can be true and look wrong, and what else must be known of what was read."""
    for words in told(study, problem):
        console.print(escape(words))


def told(study: Study, problem: Problem) -> Iterator[str]:
    """Each number that can be true and looks wrong, each column that nothing uses, and what records miss."""
    yield from (f"Does this look right? {words}." for words in slips(study, problem))
    for name, heads in study.ignored.items():
        several = f"s {', '.join(heads)} are" if len(heads) > 1 else f" {heads[0]} is"
        yield f"Note, {name}: the column{several} not used."
    for name, blockage in recorded(problem.inputs).items():
        yield from (f"Note, {name}: {words}." for words in blockage.warnings)


def _show_design_checks(console: Console, run: DeterministicRun) -> None:
    """Figures of the usual design checks, and how barrels flow."""
    if not run.checks:
        return
    table = Table("usual design checks", "figure", "set against", "margin", caption="figures, not verdicts")
    for check in run.checks:
        asked = asked_words(check.asked, check.unit, run.problem.origin(check.asked_by))
        figure, margin = (float(values[0]) for values in (check.values, check.margins))
        spare = measure(margin, check.unit, signed=True) if math.isfinite(margin) else ""
        table.add_row(escape(f"{check.element}: {check.words}"), measure(figure, check.unit), asked, spare)
    console.print(table)
    for filling in run.fillings:
        how = FILLINGS.get(filling.codes[0], "no solution")
        console.print(f"Barrels of {escape(filling.element)}: {how}.")


def _show_short_margins(console: Console, run: DeterministicRun) -> None:
    """The usual design checks in a line: those whose margin is below 0, each with it."""
    margins = [(check, float(check.margins[0])) for check in run.checks]
    short = [(check, margin) for check, margin in margins if not (math.isnan(margin) or margin >= 0.0)]
    words = "; ".join(f"{check.element}, {check.words}: {_missing(margin, check.unit)}" for check, margin in short)
    several = f"Of {len(margins)} usual design checks {len(short)} have a margin below 0" if margins else ""
    said = f"{several}{': ' if words else ''}{words}. " if several else ""
    console.print(escape(f"{said}Design checks, reach upstream and people in full: overbank check -v."))


def _missing(margin: float, unit: str) -> str:
    return measure(margin, unit, signed=True) if math.isfinite(margin) else "no way through"


def _show_influences(console: Console, run: DeterministicRun) -> None:
    """How far upstream each structure is felt."""
    if not run.influences:
        return
    table = Table("how far upstream it is felt", "afflux", "to a tenth of it", "to 10 mm")
    for felt in run.influences:
        distances = (felt.in_words(distance) for distance in (felt.to_tenth, felt.to_small))
        table.add_row(escape(felt.element), measure(felt.at_structure, "m"), *distances)
    console.print(table)
    for felt in run.influences:
        for note in felt.notes():
            console.print(f"Note, {escape(felt.element)}: {escape(note)}.")


def _show_people(console: Console, run: DeterministicRun) -> None:
    """What the water does to people at each culvert, held on the bars and carried through the barrel."""
    for at in (each for each in run.people if each.figures):
        table = Table(f"people at {escape(at.element)}", "figure", "at the medians", caption="figures, not verdicts")
        for felt in at.figures:
            table.add_row(f"{felt.side}", escape(felt.words), _of_people(float(felt.values[0]), felt.unit))
        console.print(table)


def _of_people(number: float, unit: str) -> str:
    """Three figures that count."""
    if not math.isfinite(number):
        return "no solution" if math.isnan(number) else "no way through"
    return f"{number:.3g} {unit}" if abs(number) < 1000.0 else f"{number:,.0f} {unit}"


def show_answer(outcome: Outcome) -> None:
    """The headline figures of a run, each with its interval, how they were found and what drives them."""
    console = Console(highlight=False)
    console.print(f"[bold]{escape(outcome.study.title)}[/bold]")
    table = Table(f"{escape(outcome.place)}, in the design flood", "figure", "95 % interval")
    figures = list(_figures(outcome))
    for words, figure, unit in figures:
        table.add_row(escape(words), *rounded(figure, unit))
    for words in outcome.limits:
        console.print(escape(words), style="bold")
    console.print(table)
    if outcome.places is not None and len(outcome.places.each) > 1:
        console.print(escape(_places(outcome)))
    console.print("The intervals say how exact the sampling is, not how good the assumptions are.")
    if outcome.overtopping is not None:
        console.print(escape(_how(outcome.overtopping)))
    for words, figure, _ in figures:
        if figure.note and not math.isnan(figure.value):
            console.print(escape(f"Note, {words}: {figure.note}."))
    _show_slips(console, outcome.study, outcome.problem)
    for what, settling in (outcome.convergence or {}).items():
        if not settling.settled:
            console.print(escape(f"Note, {what}: {settling.words}"))
    for words in (*_drivers(outcome), *_knowing(outcome)):
        console.print(escape(words))
    console.print(cautions()[0], style="italic")


def _figures(outcome: Outcome) -> Iterator[tuple[str, Estimate, str]]:
    """Words, figure and unit of each headline figure."""
    assured = share_words(outcome.assurance)
    if outcome.overtopping is not None:
        yield f"probability of overtopping, target {share_words(outcome.target)}", outcome.overtopping.best, "p"
    if outcome.headwater is not None:
        yield f"level with {assured} assurance", outcome.headwater.quantiles[outcome.assurance], "m"
    if outcome.blockage is not None:
        yield "largest blockage within the target", outcome.blockage.largest, "%"
        yield f"blockage allowance, {assured} assurance", outcome.blockage.allowance, "%"
    if outcome.annual is not None:
        yield "probability of overtopping in a year", outcome.annual.probability, "p"
        if outcome.annual.life is not None:
            life = outcome.annual.life
            yield f"at least once in {life.years} years", life.probability, "p"
    for each in (outcome.years or ())[1:]:
        yield f"in a year, {each.name}", each.sheet.in_a_year, "p"


def show_comparison(title: str, comparison: Comparison) -> None:
    """The arrangements in a table, each with its difference to the site as it stands."""
    console = Console(highlight=False)
    console.print(f"[bold]{escape(title)}[/bold]")
    heads = ["P(overtop)", "change", "assured level", "change"]
    if comparison.tolerance is not None:
        heads.append(f"higher by > {comparison.tolerance:.6g} m")
    table = Table(f"{escape(comparison.place)}, in the design flood", *heads)
    for each in comparison.arrangements:
        probability, level = rounded(each.overtopping.best, "p").value, rounded(each.assured, "m").value
        if each.difference is None:
            table.add_row(escape(each.name), probability, "", level, "")
            continue
        found = each.difference
        changes = [change(found.probability, "p"), change(found.assured, "m")]
        changes += [] if found.beyond is None else [rounded(found.beyond, "p")]
        more, higher, *beyond = (f"{said.value}\n({said.interval})" for said in changes)
        table.add_row(escape(each.name), probability, more, level, higher, *beyond)
    console.print(table)
    console.print("Changes are to the site as it stands, on the same random numbers, with 95 % intervals in brackets.")
    console.print(cautions()[0], style="italic")


def show_studies(found: pd.DataFrame) -> None:
    """The headline figures of many studies, a line each."""
    console = Console(highlight=False)
    table = Table("study", "P(overtop)", "assured level", "largest blockage", "")
    for row in found.to_dict("records"):
        figures = (
            _shown(row, "probability", "p"),
            _shown(row, "assured_level_m", "m"),
            _shown(row, "largest_blockage", "%"),
        )
        table.add_row(escape(str(row["study"])), *figures, "failed" if row["fault"] else "")
    console.print(table)
    console.print("Assured level: the one that holds with the assurance that the study asks for.")
    console.print(cautions()[0], style="italic")


def show_sweep(study: Study, found: pd.DataFrame, name: str, quick: bool) -> None:
    """The headline answers along one key, a line a value."""
    console = Console(highlight=False)
    console.print(f"[bold]{escape(study.title)}[/bold]")
    table = Table(escape(name), "P(overtop)", "assured level", "largest blockage", "allowance")
    for row in found.to_dict("records"):
        figures = (("probability", "p"), ("assured_level_m", "m"), ("largest_blockage", "%"), ("allowance", "%"))
        table.add_row(escape(str(row[name])), *(_shown(row, *figure) for figure in figures))
    console.print(table)
    console.print("On the same random numbers; each with its interval in the table of --out.")
    if quick:
        console.print("A quick look with few samples: run the study in full before anything rests on it.")
    console.print(cautions()[0], style="italic")


def _shown(row: Mapping[Hashable, Any], name: str, unit: str) -> str:
    """A figure of a row, or nothing where the study has none."""
    value, low, high = (row.get(f"{name}{end}", math.nan) for end in ("", "_low", "_high"))
    return "" if math.isnan(value) else rounded(Estimate(value, low, high, ""), unit).value


def _places(outcome: Outcome) -> str:
    """Overtopping at every bank in a line."""
    found = outcome.places
    named = [(place.id, place.probability) for place in found.each] + [("any", found.any), ("all", found.all)]
    return "Overtopping at every bank: " + ", ".join(f"{name} {rounded(p, 'p').value}" for name, p in named) + "."


def _how(over: Overtopping) -> str:
    """Which method gave the probability, and what the other one says."""
    counted = rounded(over.plain, "p")
    if over.beyond is not None:
        plain = f"A plain count of the samples gives {counted.value} ({counted.interval})."
        return f"Found beyond the samples: {over.beyond.method}. {plain}"
    if over.threshold is None:
        return "The probability is a plain count of samples: nothing in this study can be integrated out."
    agreement = "which agrees" if over.agree else "which does NOT agree: trust neither before it is known why"
    return (
        f"Found by the threshold method, with {over.integrated} integrated out; a plain count of the same samples "
        f"gives {counted.value} ({counted.interval}), {agreement}."
    )


def _drivers(outcome: Outcome) -> list[str]:
    """The inputs with the largest total indices."""
    from overbank.analysis.sensitivity import DUMMY

    if outcome.drivers is None:
        return []
    found = outcome.drivers.level
    if found is None:
        return list(outcome.drivers.notes)
    table = found.table[(found.table["input"] != DUMMY) & (found.table["total"] >= LEAST_SHOWN)]
    table = table.sort_values("total", ascending=False).head(NAMED)
    named = ", ".join(f"{row.input} ({row.total:.2f})" for row in table.itertuples())
    return [f"What drives the level most, by total index: {named}."]


def _knowing(outcome: Outcome) -> list[str]:
    """Number of samples where the run chose it, the best survey, the choice today, what the floods seen teach."""
    words = [] if outcome.automatic is None else [outcome.automatic.words]
    found = outcome.surveys
    if found is not None and found.narrowings:
        best = found.narrowings[0]
        narrows, moves = scaled(best.narrowing, 1000.0, "mm"), scaled(best.probability_spread, 100.0, "points", 2)
        narrower = f"It narrows the 90 % band of levels by {narrows.value}"
        if best.narrowing.value == 0.0:  # a bank, which the water does not feel
            narrower = "It leaves the levels as they are"
        words.append(
            f"The survey that does most for its cost: {best.input}. {narrower} and may move the probability by "
            f"{moves.value}."
        )
    if found is not None and found.worth is not None:
        decision = found.worth.decision
        worth = scaled(decision.everything, 1.0, "", 0).value
        words.append(f"The better choice today: {decision.better}. Knowing every input first would be worth {worth}.")
    return [*words, *_learnt(outcome)]


def _learnt(outcome: Outcome) -> list[str]:
    found = outcome.learnt
    if found is None:
        return []
    if found.taught is None:
        return [f"Nothing is learnt from the floods seen. {found.refusal}."]
    taught = found.taught
    changes = {
        name: f"{rounded(each.prior, unit).value} to {rounded(each.posterior, unit).value}"
        for name, (each, unit) in taught.figures.items()
    }
    allowed, year = changes.get("allowance_for_assurance"), changes.get("overtopping_in_a_year")
    return [
        f"The floods seen take the level with {share_words(outcome.assurance)} assurance from "
        f"{changes['level_with_the_assurance_m']}, the probability of overtopping from "
        f"{changes['probability_of_overtopping']}{f', in a year from {year}' if year else ''}"
        f"{f', the blockage allowance from {allowed}' if allowed else ''} ({taught.effective:,.0f} samples effective). "
        "The figures above are without them."
    ]


def _row(element: ElementOutcome) -> tuple[str, ...]:
    level = float(element.level[0])
    bank = math.nan if element.bank_level is None else float(element.bank_level[0])
    regime = element.governs()
    shown = f"{level:.2f}" if math.isfinite(level) else "no way through"
    spare = f"{bank - level:+.2f}" if math.isfinite(bank - level) else ""
    return escape(element.id), shown, f"{bank:.2f}" if math.isfinite(bank) else "", spare, regime


def drawn(stations: tuple[Station, ...], width: int) -> str:
    """The long section in characters, downstream on the left, no line longer than `width`.

    Bed #, roof =, road _, bank -, water ~; each is drawn between neighbouring stations that both have it. Below the
    first station and above the last things go on as they are, for a few characters.
    """
    columns = max(width - LABEL, 20)
    beyond = columns // 12
    chainage = np.array([station.chainage for station in stations])
    span = max(float(chainage[-1]), 1e-9)
    water = np.array([float(station.level[0]) for station in stations])
    lines = {
        "#": np.array([station.bed for station in stations]),
        "=": np.array([station.roof for station in stations]),
        "_": np.array([station.road for station in stations]),
        "-": np.array([station.bank for station in stations]),
        "~": np.where(np.isfinite(water), water, np.nan),
    }
    heights = np.concatenate(list(lines.values()))
    low, high = float(np.nanmin(heights)), float(np.nanmax(heights))
    step = max((high - low) / (HEIGHT - 1), 1e-9)
    canvas = [[" "] * columns for _ in range(HEIGHT)]
    at = beyond + chainage / span * (columns - 1 - 2 * beyond)
    at = np.concatenate([[0.0], at, [columns - 1.0]])
    for mark, line in lines.items():
        for column, level in _dots(at, np.concatenate([line[:1], line, line[-1:]])).items():
            canvas[HEIGHT - 1 - round((level - low) / step)][column] = mark
    labels = [f"{high - step * row:{LABEL - 1}.2f} " for row in range(HEIGHT)]
    picture = [label + "".join(row).rstrip() for label, row in zip(labels, canvas, strict=True)]
    far = f"{span:.0f} m upstream"
    ruler = f"{'':{LABEL + beyond}}0 m{far:>{columns - 3 - 2 * beyond}}"
    return "\n".join([*picture, ruler, "# bed  = roof  _ road  - bank  ~ water"])


def _dots(at: NDArray[np.float64], line: NDArray[np.float64]) -> dict[int, float]:
    """The columns that a line passes and its level in each; `at` in columns."""
    known = np.isfinite(line)
    dots = {round(float(x)): float(level) for x, level in zip(at[known], line[known], strict=True)}
    for (left, from_level), (right, to_level) in pairwise(zip(at, line, strict=True)):
        if math.isfinite(from_level) and math.isfinite(to_level):
            inside = np.arange(math.ceil(left), math.floor(right) + 1)
            dots |= dict(zip(inside.tolist(), np.interp(inside, [left, right], [from_level, to_level]), strict=True))
    return dots


def coloured(picture: str) -> Text:
    """The long section with a colour for each kind of line."""
    text = Text(picture)
    for mark, colour in COLOURS.items():
        text.highlight_words([mark], colour)
    return text
