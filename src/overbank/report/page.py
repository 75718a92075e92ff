"""The report as one self-contained page, with its figures beside it as files."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from overbank import __version__
from overbank.outputs.outcome import Outcome
from overbank.report.captions import CAPTIONS, Caption
from overbank.report.figures import FIGURES, figures_of
from overbank.report.sections.registry import SECTIONS
from overbank.report.sections.section import Section
from overbank.report.statement import FILE as STATEMENT
from overbank.report.statement import statement
from overbank.report.style import COLOURS
from overbank.report.svg import inline, legible, save
from overbank.words import share_words

FILE = "report.html"

NO_PICTURE = "A picture is missing here."
UNDONE = Markup(
    '<p><span class="gap">Could not be done</span> ({error}). Nothing else is lost: what was found stands in the '
    "tables beside this page.</p>\n"
)
"""What stands in place of a picture or a section that failed."""

LONGEST = 70
"""Letters of the title at the head of a printed page."""

FAULT = "fault"
"""Name under which the content of a section that failed holds the words for it."""


class Plate(NamedTuple):
    """A figure of the page."""

    name: str
    picture: Markup
    caption: Caption


def write_report(outcome: Outcome, folder: Path) -> None:
    """Write report.html, statement.txt and figures/*.svg and *.png into a folder; a quick run is drawn nothing."""
    pictures, plates = folder / "figures", dict[str, Plate]()
    if not outcome.quick:
        pictures.mkdir(exist_ok=True)
        plates = {name: _plate(outcome, name, pictures) for name in figures_of(outcome)}
    (folder / FILE).write_text(page(outcome, plates), encoding="utf-8", newline="\n")
    if said := statement(outcome):
        (folder / STATEMENT).write_text(f"{said}\n", encoding="utf-8", newline="\n")


def _plate(outcome: Outcome, name: str, pictures: Path) -> Plate:
    """The figure in its files and for the page; where it cannot be drawn, the page says so and goes on."""
    try:
        caption = CAPTIONS[name](outcome)
        document = save(FIGURES[name](outcome), name, pictures)
        return Plate(name, inline(document, name, f"{caption.title} {caption.described}"), caption)
    except OSError:  # the disk is full, and the folder stays as it was
        raise
    except Exception as error:
        return Plate(name, UNDONE.format(error=f"{type(error).__name__}: {error}"), Caption(NO_PICTURE, "", ""))


def page(outcome: Outcome, plates: Mapping[str, Plate]) -> str:
    """The page as text. Everything that comes from the study is escaped."""

    def plate(name: str) -> Markup:
        """A figure with its caption; nothing where it has nothing to show."""
        framed = templates().get_template("plate.html")
        return Markup(framed.render(plate=plates[name]) if name in plates else "")

    common: dict[str, Any] = {
        "plate": plate,
        "title": outcome.study.title,
        "place": outcome.place,
        "target": share_words(outcome.target),
        "assurance": share_words(outcome.assurance),
        "version": __version__,
        "state": _state(outcome),
    }
    found = {each.anchor: _content(each, outcome) for each in SECTIONS if each.is_found(outcome)}
    shown = [each for each in SECTIONS if found.get(each.anchor) is not None]
    common["missing"] = [] if outcome.asked is None else [each.contents for each in SECTIONS if each not in shown]
    bodies = [(each, _body(each, {**common, **(found[each.anchor] or {})})) for each in shown]
    dressed = {**common, "style": style(outcome.study.title, _state(outcome)), "sections": bodies}
    return legible(templates().get_template(FILE).render(dressed))


def _content(section: Section, outcome: Outcome) -> dict[str, Any] | None:
    """What the section shows; a fault of its own costs the section, not the page."""
    try:
        return section.content(outcome)
    except Exception as error:
        return {FAULT: UNDONE.format(error=f"{type(error).__name__}: {error}")}


def _body(section: Section, content: dict[str, Any]) -> Markup:
    """The section without its title."""
    if FAULT in content:
        return Markup(content[FAULT])
    return Markup(templates().get_template(section.template).render(content))


@cache
def templates() -> Environment:
    """Where the templates are, and what all of them may call; each is compiled once."""
    environment = Environment(
        loader=ChoiceLoader([PackageLoader("overbank.report", folder) for folder in ("templates", "sections")]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["breakable"] = breakable
    return environment


def breakable(path: str) -> Markup:
    """A dotted path that a narrow column may break after its dots."""
    return Markup(".<wbr>").join(path.split("."))


def style(title: str, state: str) -> Markup:
    """The style sheet with the colours of the figures for light and dark, and what stands at the head of each page."""
    light, dark = (
        Markup(" ").join(Markup("--fig-{}: {};").format(name, pair[side]) for name, pair in COLOURS.items())
        for side in (0, 1)
    )
    short = title if len(title) <= LONGEST else f"{title[: LONGEST - 1]}…"
    head = {"page_title": css_text(short), "page_state": css_text(state)}
    return Markup(templates().get_template("report.css").render(light=light, dark=dark, **head))


def _state(outcome: Outcome) -> str:
    """Revision, date and version, as they stand at the head of each printed page."""
    document = outcome.study.content.document
    return f"revision {document.revision or 'not stated'}, {document.date or 'no date stated'}, overbank {__version__}"


def css_text(words: str) -> Markup:
    """A text as a style sheet holds it, in quotation marks; all but plain letters and digits by their number."""
    return Markup('"{}"').format(
        Markup("").join(
            Markup(each) if each.isascii() and each.isalnum() else Markup(f"\\{ord(each):06x}") for each in words
        )
    )
