"""Second-order Sobol' indices against closed forms."""

from itertools import combinations

import numpy as np
import pytest
from known_answers import ISHIGAMI_TOTAL, assert_shares, g_function, ishigami, scores

from overbank.analysis.second_order import pair_blocks, pair_indices
from overbank.analysis.sensitivity import indices
from overbank.errors import DomainError


def outputs_of(model, samples, dimension, seed, groups=None):
    z = scores(16, samples, 2 * dimension, seed)
    made = pair_blocks(z[..., :dimension], z[..., dimension:], groups=groups)
    return np.stack([model(table) for table in made], axis=1)


def test_ishigami():
    # Closed form: S13 = 0.243683664, all other pairs 0.
    y = outputs_of(ishigami, 1024, 3, seed=71)
    found = pair_indices(y, ["x1", "x2", "x3"])
    assert found.table[["input", "other"]].to_numpy().tolist() == [["x1", "x2"], ["x1", "x3"], ["x2", "x3"]]
    assert_shares(found.table, "second", [0.0, 0.243683664, 0.0])
    assert np.max(found.table["second_high"] - found.table["second_low"]) < 0.05
    assert (found.rows, found.dropped, found.warning) == (16 * 1024, 0, "")
    assert_shares(indices(y[:, :5], ["x1", "x2", "x3"], dummy=False).table, "total", ISHIGAMI_TOTAL)


def test_g_function():
    # Closed form: S_ij = V_i V_j / V.
    a = np.array([0, 0.5, 1, 2, 5, 9])
    part = 1 / (3 * (1 + a) ** 2)
    exact = [part[i] * part[j] / (np.prod(1 + part) - 1) for i, j in combinations(range(6), 2)]
    found = pair_indices(outputs_of(lambda z: g_function(z, a), 512, 6, seed=72), [str(i) for i in a])
    assert_shares(found.table, "second", exact)


def test_groups_interact_as_one():
    # x1 and x3 act together only through their group: nothing is left between it and x2.
    y = outputs_of(ishigami, 256, 3, seed=73, groups=[(0, 2), (1,)])
    found = pair_indices(y, ["x1 and x3", "x2"])
    assert y.shape[1] == 6
    assert_shares(found.table, "second", [0.0])


def test_refusals():
    with pytest.raises(DomainError, match=r"\(replicates, 8, samples\)"):
        pair_indices(np.zeros((4, 5, 64)), ["x1", "x2", "x3"])
    with pytest.raises(DomainError, match="does not vary"):
        pair_indices(np.full((4, 8, 64), 31.27), ["x1", "x2", "x3"])
    endless = outputs_of(ishigami, 64, 3, seed=74)
    endless[0, 6, 2] = np.inf
    with pytest.raises(DomainError, match="1 infinite"):
        pair_indices(endless, ["x1", "x2", "x3"])
