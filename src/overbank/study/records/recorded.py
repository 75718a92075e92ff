"""Which blockages of a problem rest on inspection records."""

from __future__ import annotations

from overbank.uncertain.inputs import Inputs
from overbank.uncertain.records import RecordedBlockage
from overbank.uncertain.settled import Settled


def recorded(inputs: Inputs) -> dict[str, RecordedBlockage]:
    """The blockages that rest on records, by name."""
    known = {item.name: item.distribution for item in inputs.items}
    before = {name: each.before if isinstance(each, Settled) else each for name, each in known.items()}
    return {name: each for name, each in before.items() if isinstance(each, RecordedBlockage)}
