"""Critical values from few model runs, against the toy crossing's closed form."""

import numpy as np
import pytest
from known_answers import FLOW_RULES, scores

from overbank.analysis.short_ladder import critical_values


@pytest.mark.parametrize("nodes", [[0.0, 1.0], [0.0, 0.8, 1.0], [0.0, 0.3, 0.6, 0.9, 1.0]])
@pytest.mark.parametrize("tolerance", [1e-3, 1e-6])
def test_closed_form_within_the_tolerance_in_few_runs(nodes, tolerance):
    load = FLOW_RULES.load(scores(1, 512, 5, seed=1)[0])
    spent = []

    def depth_at(b, sample):
        spent.append(b.size)
        return FLOW_RULES.depth_over_bank(b, load[sample])

    found = critical_values(depth_at, np.array(nodes), 512, tolerance)
    exact = -np.expm1(load - FLOW_RULES.limit)
    assert np.max(np.abs(found.value - exact)[exact > 0]) <= tolerance
    assert np.all(np.isneginf(found.value[exact <= 0]))
    assert found.runs == sum(spent)
    assert found.runs < 12 * 512


def test_falls_and_failures():
    def depth_at(x, sample):
        return np.where(sample == 0, np.abs(x - 0.5) - 0.25, np.where(sample == 1, np.nan, x - 0.9))

    found = critical_values(depth_at, np.array([0.0, 0.5, 1.0]), 3, 1e-6)
    assert np.isneginf(found.value[0])  # the first crossing, the safe end
    assert np.isnan(found.value[1])
    assert found.value[2] == pytest.approx(0.9, abs=1e-6)
