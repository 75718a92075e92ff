"""Small tables of samples taken together: a walk up a long chain costs as much for few rows as for some thousand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain, islice

import numpy as np

from overbank.analysis.intervals import Array

ROWS = 2**12
"""Rows that the site is run on at once, where the tables are smaller than that."""


def together(tables: Iterable[Array]) -> Iterator[Array]:
    """Tables (..., d) of one shape, some at a time, as (K, ..., d); one at a time where they are large."""
    rest = iter(tables)
    for first in rest:
        more = ROWS // max(1, first[..., 0].size)
        yield np.stack(list(chain([first], islice(rest, max(0, more - 1)))))
