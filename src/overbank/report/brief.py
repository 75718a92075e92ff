"""The page of a run that was not asked for everything: its headline figures and what was left out, without drawings."""

from __future__ import annotations

from html import escape
from pathlib import Path

from overbank.outputs.outcome import Outcome

PAGE = """<!DOCTYPE html>
<html lang="en">
<head><meta charset="utf-8"><title>{title}</title></head>
<body style="font-family: sans-serif; max-width: 60em; margin: 2em auto">
{headlines}
</body>
</html>
"""


def write_brief(outcome: Outcome, folder: Path) -> None:
    """Write report.html into an existing folder."""
    page = PAGE.format(title=escape(outcome.study.title), headlines=outcome._repr_html_())
    (folder / "report.html").write_text(page, encoding="utf-8")
