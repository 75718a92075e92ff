"""What a command is asked to change in a study: keys set, samples, and the values of a sweep."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from overbank.errors import DomainError

if TYPE_CHECKING:
    from overbank.study.load import Study

MOST_VALUES = 200
"""So many values a sweep takes at most."""


def changed(study: Study, settings: Sequence[str], samples: int | None) -> Study:
    """The study with keys set as `--set` says, and so many samples if that is asked for."""
    values = dict(map(_setting, settings))
    if values:
        study = study.with_values(values)
    return study if samples is None else study.with_samples(samples)


def _setting(words: str) -> tuple[str, Any]:
    """A key and its value, from `lane.screen.gap_m=0.15`."""
    name, equals, value = (part.strip() for part in words.partition("="))
    if not (name and equals and value):
        raise DomainError(f"--set: expected name=value, such as lane.screen.gap_m=0.15; got {words!r}. Write it so")
    return name, _value(value)


def _value(words: str) -> Any:
    """A value as a study file would say it; a bare word as a text."""
    try:
        return tomllib.loads(f"value = {words}")["value"]
    except tomllib.TOMLDecodeError:
        return words


def values_of(words: str) -> list[Any]:
    """The values of a sweep: from `2:6:0.5`, lowest, highest and step, or from `0.10,0.125,0.15`.

    Raises
    ------
    DomainError : it is neither, there are more than 200 values, or none
    """
    remedy = "Write 2:6:0.5 (lowest, highest, step), or 0.10,0.125,0.15"
    if ":" not in words:
        found = [_value(part.strip()) for part in words.split(",") if part.strip()]
    else:
        try:
            low, high, step = map(float, words.split(":"))
        except ValueError:
            raise DomainError(f"the values: expected three numbers; got {words!r}. {remedy}") from None
        several = (high - low) / step if step else math.nan
        if not 0.0 <= several < MOST_VALUES:
            raise DomainError(f"the values: expected 1 to {MOST_VALUES} of them; got {words!r}. {remedy}")
        found = [round(low + k * step, 12) for k in range(math.floor(several + 1e-9) + 1)]
    if not 0 < len(found) <= MOST_VALUES:
        raise DomainError(f"the values: expected 1 to {MOST_VALUES} of them; got {words!r}. {remedy}")
    return found
