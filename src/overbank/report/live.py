"""The live page: a shell that its script fills with what the model answers. Dressed as the report is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from overbank import __version__
from overbank.report.page import style, templates
from overbank.report.svg import legible
from overbank.words import cautions


def live_page(question: Mapping[str, Any]) -> str:
    """The page as text, for a study's title, place, controls and decision. What comes from the study is escaped."""
    words = {"version": __version__, "cautions": cautions(), **question}
    return legible(templates().get_template("live.html").render(words))


def live_style() -> str:
    """Its style sheet: the report's, and what it adds."""
    return f"{style('live page', __version__)}\n{templates().get_template('live.css').render()}"


def live_script() -> str:
    """Its script, which draws and asks; it computes no hydraulics."""
    return templates().get_template("live.js").render()
