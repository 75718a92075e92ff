"""Why an open reach is not worked by hand."""

from __future__ import annotations

from collections.abc import Iterator

from overbank.site.by_hand.steps import Case, Step
from overbank.site.channel import OpenReach

SOURCES = ""


def refusal(_case: Case, _reach: OpenReach) -> str:
    """There is no short way."""
    return "an open reach is a profile along its length, which is not worked by hand"


def steps(_case: Case, _reach: OpenReach) -> Iterator[Step]:
    """None."""
    return iter(())
