"""A failed run (nan), wherever it falls, never changes an index in silence: its row goes, and is counted."""

import numpy as np
import pytest
from known_answers import ishigami, scores
from scipy.special import ndtr

from overbank.analysis.effects import level_given, overtopping_given
from overbank.analysis.given_data import first_order
from overbank.analysis.second_order import pair_blocks, pair_indices
from overbank.analysis.sensitivity import blocks, indices
from overbank.analysis.shapley import shapley_effects
from overbank.analysis.target import target_indices
from overbank.errors import DomainError

NAMES = ["x1", "x2", "x3"]
REPLICATES, SAMPLES = 8, 64
Z = scores(REPLICATES, SAMPLES, 6, seed=131)
A, B = Z[..., :3], Z[..., 3:]
PLACES = [(0, 0), (3, 17), (REPLICATES - 1, SAMPLES - 1)]


def chance(z):
    """P(over | two inputs), a third integrated out."""
    return ndtr((z[..., 0] + z[..., 1] - 1) / 0.7)


CROSSED = {
    "first and total": (lambda y: indices(y, NAMES), np.stack([ishigami(t) for t in blocks(A, B)], axis=1)),
    "second order": (lambda y: pair_indices(y, NAMES), np.stack([ishigami(t) for t in pair_blocks(A, B)], axis=1)),
    "target": (
        lambda y: target_indices(y, NAMES, "x3"),
        np.stack([chance(t) for t in blocks(A[..., :2], B[..., :2])], axis=1),
    ),
}
"""Analyses of crossed tables: function of the outputs, and outputs."""


@pytest.mark.parametrize("name", CROSSED)
@pytest.mark.parametrize("place", PLACES)
def test_crossed_tables(name, place):
    analysis, outputs = CROSSED[name]
    replicate, row = place
    for block in range(outputs.shape[1]):
        failed, spoiled = outputs.copy(), outputs.copy()
        failed[replicate, block, row] = np.nan
        spoiled[replicate, :, row] = np.nan
        one = analysis(failed)
        assert one.dropped == 1
        assert not one.table.isna().to_numpy().any()
        assert one.table.equals(analysis(spoiled).table)  # the rest of the row has no say
    assert not analysis(outputs).table.equals(one.table)


@pytest.mark.parametrize("name", CROSSED)
def test_crossed_tables_with_more_than_one_in_a_hundred_failed(name):
    analysis, outputs = CROSSED[name]
    failed = outputs.copy()
    failed[:, -1, 0] = np.nan  # 8 of 512
    with pytest.raises(DomainError, match=r"8 of 512 rows hold a failed run; more than 1% is refused"):
        analysis(failed)


def failing(model, where):
    """The model, with a failed run wherever the first score is one of these."""
    return lambda z: np.where(np.isin(z[:, 0], where), np.nan, model(z))


def shapley(model):
    return shapley_effects(model, A, B, np.eye(3), NAMES)


@pytest.mark.parametrize("table", [A, B])
@pytest.mark.parametrize("place", PLACES)
def test_shapley_effects(table, place):
    # The score of A stands in half of all subsets, that of B in the others: either way one row goes.
    clean, found = shapley(ishigami), shapley(failing(ishigami, [table[*place, 0]]))
    assert (clean.dropped, found.dropped) == (0, 1)
    assert not found.table.isna().to_numpy().any()
    assert found.table["shapley"].sum() == pytest.approx(1.0, abs=1e-12)
    figures = clean.table.columns[1:]
    assert np.max(np.abs(found.table[figures] - clean.table[figures]).to_numpy()) < 0.1
    assert not found.table.equals(clean.table)


def test_shapley_effects_with_more_than_one_in_a_hundred_failed():
    with pytest.raises(DomainError, match=r"8 of 512 rows"):
        shapley(failing(ishigami, A[:, 5, 0]))


GIVEN = {
    "given data": lambda y: first_order(A, y, NAMES).table,
    "level along": lambda y: level_given(A, y, NAMES)[0].table(),
    "overtopping along": lambda y: overtopping_given(A, y, NAMES, "x3")[0].table(),
}


@pytest.mark.parametrize("name", GIVEN)
@pytest.mark.parametrize("place", PLACES)
def test_samples_already_made(name, place):
    outputs = chance(A)
    clean, failed = GIVEN[name](outputs), outputs.copy()
    failed[place] = np.nan
    found = GIVEN[name](failed)
    assert not found.isna().to_numpy().any()
    figures = [column for column in clean.columns if column not in ("input", "at", "samples")]
    assert np.max(np.abs(found[figures] - clean[figures]).to_numpy()) < 0.1
    assert not found.equals(clean)


@pytest.mark.parametrize("name", GIVEN)
def test_samples_already_made_with_more_than_one_in_a_hundred_failed(name):
    failed = chance(A)
    failed[:, 5] = np.nan
    with pytest.raises(DomainError, match="8 of 512 rows"):
        GIVEN[name](failed)


def test_samples_already_made_are_counted():
    failed = chance(A)
    failed[3, 17] = np.nan
    found = first_order(A, failed, NAMES)
    assert (found.samples, found.dropped) == (511, 1)
    along = level_given(A, failed, NAMES)[1]
    assert along.samples.sum() == 511
    assert "1 of 512 samples failed" in along.note


def test_a_replicate_of_nothing_but_failed_runs_is_refused():
    z = scores(200, 4, 1, seed=132)
    outputs = z[..., 0].copy()
    outputs[7] = np.nan  # 4 of 800: within the limit, but that replicate has nothing to say
    with pytest.raises(DomainError, match="replicate without any"):
        first_order(z, outputs, ["x1"])
