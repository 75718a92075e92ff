"""Small tables taken together: every table once, in order, never more than so many rows at a time."""

from __future__ import annotations

import numpy as np
import pytest

from overbank.analysis.together import ROWS, together


@pytest.mark.parametrize(("rows", "calls"), [(64, 2), (ROWS // 2 + 1, 100), (3 * ROWS, 100), (1, 1)])
def test_every_table_comes_once_and_in_order(rows: int, calls: int) -> None:
    tables = [np.full((1, rows, 2), float(number)) for number in range(100)]
    found = list(together(iter(tables)))
    assert len(found) == calls
    assert all(each[..., 0].size <= max(ROWS, rows) for each in found)
    np.testing.assert_array_equal(np.concatenate(found), np.stack(tables))
