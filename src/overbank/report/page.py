"""The report as one self-contained page, with its figures beside it as files."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from overbank import __version__
from overbank.outputs.outcome import Outcome
from overbank.report.captions import CAPTIONS, Caption
from overbank.report.figures import FIGURES, figures_of
from overbank.report.sections.registry import SECTIONS
from overbank.report.style import COLOURS
from overbank.report.svg import inline, legible, save
from overbank.words import share_words

FILE = "report.html"

NO_PICTURE = "A picture is missing here."
UNDRAWN = Markup(
    '<p><span class="gap">Could not be drawn</span> ({error}). Only the picture is lost: all figures are whole.</p>'
)
"""What stands in place of a picture that failed."""


class Plate(NamedTuple):
    """A figure of the page."""

    name: str
    picture: Markup
    caption: Caption


def write_report(outcome: Outcome, folder: Path) -> None:
    """Write report.html and figures/*.svg and *.png into an existing folder; a quick run is drawn nothing."""
    pictures, plates = folder / "figures", dict[str, Plate]()
    if not outcome.quick:
        pictures.mkdir(exist_ok=True)
        plates = {name: _plate(outcome, name, pictures) for name in figures_of(outcome)}
    (folder / FILE).write_text(page(outcome, plates), encoding="utf-8")


def _plate(outcome: Outcome, name: str, pictures: Path) -> Plate:
    """The figure in its files and for the page; where it cannot be drawn, the page says so and goes on."""
    try:
        caption = CAPTIONS[name](outcome)
        document = save(FIGURES[name](outcome), name, pictures)
        return Plate(name, inline(document, name, f"{caption.title} {caption.described}"), caption)
    except OSError:  # the disk is full, and the folder stays as it was
        raise
    except Exception as error:
        return Plate(name, UNDRAWN.format(error=f"{type(error).__name__}: {error}"), Caption(NO_PICTURE, "", ""))


def page(outcome: Outcome, plates: Mapping[str, Plate]) -> str:
    """The page as text. Everything that comes from the study is escaped."""
    environment = _environment(plates)
    common = {
        "title": outcome.study.title,
        "place": outcome.place,
        "target": share_words(outcome.target),
        "assurance": share_words(outcome.assurance),
        "version": __version__,
    }
    contents = {section.anchor: section.content(outcome) for section in SECTIONS if section.is_found(outcome)}
    shown = [section for section in SECTIONS if contents.get(section.anchor) is not None]
    missing = [] if outcome.asked is None else [each.contents for each in SECTIONS if each not in shown]
    sections = [
        {
            "anchor": section.anchor,
            "contents": section.contents,
            "title": section.title,
            "body": Markup(
                environment.get_template(section.template).render(
                    {**common, "missing": missing, **(contents[section.anchor] or {})}
                )
            ),
        }
        for section in shown
    ]
    return legible(
        environment.get_template(FILE).render({**common, "style": _style(environment), "sections": sections})
    )


def _environment(plates: Mapping[str, Plate]) -> Environment:
    """Where the templates are, and what all of them may call."""
    environment = Environment(
        loader=ChoiceLoader([PackageLoader("overbank.report", folder) for folder in ("templates", "sections")]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )

    def plate(name: str) -> Markup:
        """A figure with its caption; nothing where it has nothing to show."""
        framed = environment.get_template("plate.html")
        return Markup(framed.render(plate=plates[name]) if name in plates else "")

    environment.filters["breakable"] = breakable
    environment.globals["plate"] = plate
    return environment


def breakable(path: str) -> Markup:
    """A dotted path that a narrow column may break after its dots."""
    return Markup(".<wbr>").join(path.split("."))


def _style(environment: Environment) -> Markup:
    """The style sheet with the colours of the figures for light and dark."""
    light, dark = (
        Markup(" ").join(Markup("--fig-{}: {};").format(name, pair[side]) for name, pair in COLOURS.items())
        for side in (0, 1)
    )
    return Markup(environment.get_template("report.css").render(light=light, dark=dark))
