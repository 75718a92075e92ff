"""Figures as files, and as SVG inside the page: real text, colours that follow the reader's light or dark setting."""

from __future__ import annotations

import io
import re
from pathlib import Path
from xml.etree import ElementTree

from markupsafe import Markup
from matplotlib.figure import Figure

from overbank.report.style import COLOURS, DOTS, drawing

SPACE = re.compile(r"^\{[^}]*\}")
REFERENCE = re.compile(r"url\(#([^)]+)\)")
LINK = "{http://www.w3.org/1999/xlink}href"
NAMED = {light: f"var(--fig-{name}, {light})" for name, (light, _) in COLOURS.items()}
HEXADECIMAL = re.compile("|".join(NAMED))
DROPPED = {"metadata", "style"}
NOT_TEXT = re.compile("[^\t\n\r -~\u00a0-\ud7ff\ue000-\ufdcf\ufdf0-\ufffd\U00010000-\U0010fffd]")
"""Control characters, halves of pairs and the like, which neither XML nor HTML may hold."""


def legible(text: str) -> str:
    """The text, a replacement character in place of each that no document may hold."""
    return NOT_TEXT.sub("\ufffd", text)


def as_svg(figure: Figure) -> str:
    """The figure as an SVG document: the same bytes each time."""
    with drawing():
        text = io.StringIO()
        figure.savefig(text, format="svg", metadata={"Date": None})
    return legible(text.getvalue())


def save(figure: Figure, name: str, folder: Path) -> str:
    """Write the figure as SVG and PNG; gives the SVG document back."""
    document = as_svg(figure)
    (folder / f"{name}.svg").write_text(document, encoding="utf-8", newline="\n")
    with drawing():
        figure.savefig(folder / f"{name}.png", format="png", dpi=DOTS, metadata={"Software": None})
    return document


def inline(document: str, name: str, words: str) -> Markup:
    """The SVG document as an element of the page.

    Parameters
    ----------
    document : made by `as_svg`
    name : begins every id, so that the ids of several figures on one page do not meet
    words : what the picture shows, for readers who do not see it
    """
    root = ElementTree.fromstring(document)
    used = _used_ids(root)
    root.attrib = {
        "viewBox": root.attrib["viewBox"],
        "role": "img",
        "aria-label": words,
        "id": f"picture-{name}",
        "focusable": "false",
    }
    _clean(root, name, used)
    return Markup(ElementTree.tostring(root, encoding="unicode"))


def _used_ids(root: ElementTree.Element) -> set[str]:
    """Ids that something refers to."""
    used = set()
    for element in root.iter():
        for key, value in element.attrib.items():
            used |= {value[1:]} if key == LINK else set(REFERENCE.findall(value))
    return used


def _clean(element: ElementTree.Element, name: str, used: set[str]) -> None:
    """Names without a name space, own ids, colours by name; no style sheet and no metadata."""
    for child in list(element):
        if SPACE.sub("", str(child.tag)) in DROPPED:
            element.remove(child)
            continue
        attributes = {}
        for key, value in child.attrib.items():
            if key == "id":
                if value in used:
                    attributes["id"] = f"{name}-{value}"
            elif key == LINK:
                attributes["href"] = f"#{name}-{value[1:]}"
            elif key == "style":
                attributes["style"] = HEXADECIMAL.sub(lambda found: NAMED[found[0]], _without_family(value))
            elif not (key == "transform" and value.startswith("rotate(-0 ")):
                attributes[key] = REFERENCE.sub(rf"url(#{name}-\1)", value)
        child.attrib = attributes
        _clean(child, name, used)
    element.tag = SPACE.sub("", str(element.tag))
    if element.text is not None and not element.text.strip():
        element.text = None
    element.tail = None


def _without_family(style: str) -> str:
    """A text takes its type face from the page."""
    return re.sub(r"font-family: [^;]*;?\s*", "", style)
