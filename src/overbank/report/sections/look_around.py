"""The panel on which a reader looks around."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

from markupsafe import Markup

from overbank.outputs.outcome import Outcome
from overbank.report import panel
from overbank.report.sections.section import Section


def _content(outcome: Outcome) -> dict[str, Any] | None:
    sliders = panel.sliders(outcome)
    if sliders is None:
        return None
    return {"panel": sliders, "panel_data": panel.data(outcome), "panel_script": _script()}


def _script() -> Markup:
    """The script of the panel, which holds nothing of the study."""
    return Markup((files("overbank.report") / "sections" / "look_around.js").read_text(encoding="utf-8"))


SECTION = Section("look-around", "Look around", "Look around", _content, shows=("panel",))
