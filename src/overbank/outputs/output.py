"""What every output tells of itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, TypeAlias, TypeVar

if TYPE_CHECKING:  # a check makes no tables
    import pandas as pd

T = TypeVar("T")

Tables: TypeAlias = "Mapping[str, pd.DataFrame | None]"
"""Tables by the names of their files; None where there is nothing to tell."""


def _nothing(_result: object) -> dict[str, Any]:
    return {}


@dataclass(frozen=True)
class Output(Generic[T]):
    """One output of a run.

    find : from a `sampling.run.Run`, and the results of what it needs by their names
    needs : names of other outputs, which stand before it in the registry
    stage : in words as it begins; empty where it takes no time to speak of
    sampled : whether it takes samples, and not only single runs
    powers : of the debris for which the exceedance of the level must be counted on the way
    tables, summary : of a result that is there
    """

    find: Callable[..., T | None]
    needs: tuple[str, ...] = ()
    stage: str = ""
    sampled: bool = True
    powers: tuple[float, ...] = ()
    tables: Callable[[T], Tables] = _nothing
    summary: Callable[[T], dict[str, Any]] = _nothing
