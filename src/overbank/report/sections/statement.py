"""The statement, with a button that puts it on the clipboard."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

from markupsafe import Markup

from overbank.outputs.outcome import Outcome
from overbank.report.sections.section import Section
from overbank.report.statement import FILE, statement


def _content(outcome: Outcome) -> dict[str, Any] | None:
    said = statement(outcome)
    return {"statement": said, "statement_file": FILE, "statement_script": _script()} if said else None


def _script() -> Markup:
    """The script of the button, which holds nothing of the study."""
    return Markup((files("overbank.report") / "sections" / "statement.js").read_text(encoding="utf-8"))


SECTION = Section(
    "statement", "The statement", "The statement, to be quoted whole", _content, shows=("overtopping",), part="front"
)
