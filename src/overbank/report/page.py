"""The report as one self-contained page, with its figures beside it as files."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from overbank import __version__
from overbank.outputs.outcome import Outcome
from overbank.report import (
    allowance,
    arrangements,
    design,
    floods,
    freeboard,
    learnt,
    one_at_a_time,
    panel,
    people,
    records,
    register,
    requirements,
    reviewers_index,
    surveys,
    tables,
    worked,
)
from overbank.report.answer import answer
from overbank.report.captions import CAPTIONS, Caption
from overbank.report.figures import FIGURES, figures_of
from overbank.report.style import COLOURS
from overbank.report.svg import inline, save
from overbank.words import cautions, share_words

FILE = "report.html"

DESIGNS = {
    "sobol": "scrambled Sobol' points",
    "latin_hypercube": "Latin hypercube",
    "monte_carlo": "random samples",
}
"""Sampling designs in words."""


class Plate(NamedTuple):
    """A figure of the page."""

    name: str
    picture: Markup
    caption: Caption


def write_report(outcome: Outcome, folder: Path) -> None:
    """Write report.html and figures/*.svg and *.png into an existing folder."""
    pictures = folder / "figures"
    pictures.mkdir(exist_ok=True)
    plates = {name: _plate(outcome, name, pictures) for name in figures_of(outcome)}
    (folder / FILE).write_text(page(outcome, plates), encoding="utf-8")


def _plate(outcome: Outcome, name: str, pictures: Path) -> Plate:
    caption = CAPTIONS[name](outcome)
    document = save(FIGURES[name](outcome), name, pictures)
    return Plate(name, inline(document, name, f"{caption.title} {caption.described}"), caption)


def page(outcome: Outcome, plates: dict[str, Plate]) -> str:
    """The page as text. Everything that comes from the study is escaped."""
    environment = Environment(
        loader=PackageLoader("overbank.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["breakable"] = breakable
    return environment.get_template("report.html").render(_content(outcome, plates))


def breakable(path: str) -> Markup:
    """A dotted path that a narrow column may break after its dots."""
    return Markup(".<wbr>").join(path.split("."))


def _content(outcome: Outcome, plates: dict[str, Plate]) -> dict[str, Any]:
    """Everything that the template shows."""
    settings, problem = outcome.study.content.run, outcome.problem
    return {
        "title": outcome.study.title,
        "study": outcome.study,
        "place": outcome.place,
        "version": __version__,
        "target": share_words(outcome.target),
        "assurance": share_words(outcome.assurance),
        "answer": answer(outcome),
        "key_figures": tables.key_figures(outcome),
        "plates": plates,
        "has_blockage": outcome.blockage is not None,
        "stair": outcome.overtopping.integrated,
        "places": tables.places(outcome),
        "readings": allowance.tables(outcome),
        "statement": allowance.statement(outcome),
        "arrangements": arrangements.lines(outcome),
        "tolerance": arrangements.tolerance(outcome),
        "panel": panel.sliders(outcome),
        "placed": freeboard.placed(outcome),
        "ledger": freeboard.ledger(outcome),
        "one_at_a_time": one_at_a_time.tests(outcome),
        "worked": worked.worked(outcome),
        "reviewers_index": reviewers_index.index(outcome),
        "panel_data": panel.data(outcome),
        "panel_script": _script(),
        "floods": floods.rows(outcome),
        "flood_kinds": floods.kinds(outcome),
        "flood_notes": floods.notes(outcome),
        "indices": tables.indices(outcome),
        "pairs": tables.pairs(outcome),
        "shapley": tables.shapley(outcome),
        "shapley_words": tables.SHAPLEY_WORDS,
        "driver_notes": outcome.drivers.notes,
        "has_surveys": outcome.surveys is not None,
        "survey_lines": surveys.lines(outcome),
        "worth_lines": surveys.worth_lines(outcome),
        "worth_notes": surveys.worth_notes(outcome),
        "choice_words": surveys.choice_words(outcome),
        "survey_notes": () if outcome.surveys is None else outcome.surveys.notes,
        "learnt": learnt.learnt(outcome),
        "regimes": tables.regimes(outcome),
        "certain_levels": tables.certain_levels(outcome),
        "design_figures": design.figures(outcome),
        "barrel_flows": design.flows(outcome),
        "felt": design.felt(outcome),
        "asked_for": outcome.requirements,
        "required": requirements.rows(outcome),
        "records": records.records(outcome),
        "people": people.people(outcome),
        "people_cautions": people.CAUTIONS,
        "assumptions": register.assumptions(outcome),
        "gaps": problem.gaps(),
        "dependences": register.dependences(outcome),
        "taken_rows": register.taken_rows(outcome),
        "checks": register.checks(outcome),
        "cautions": cautions(),
        "settings": settings,
        "each": settings.samples // settings.replicates,
        "design": DESIGNS[settings.design],
        "runs": f"{outcome.runs:,}",
        "samples": f"{settings.samples:,}",
        "style": _style(),
    }


def _script() -> Markup:
    """The script of the panel, which holds nothing of the study."""
    return Markup((files("overbank.report") / "templates" / "panel.js").read_text(encoding="utf-8"))


def _style() -> Markup:
    """The style sheet with the colours of the figures for light and dark."""
    environment = Environment(loader=PackageLoader("overbank.report", "templates"), autoescape=True)
    light, dark = (
        Markup(" ").join(Markup("--fig-{}: {};").format(name, pair[side]) for name, pair in COLOURS.items())
        for side in (0, 1)
    )
    return Markup(environment.get_template("report.css").render(light=light, dark=dark))
