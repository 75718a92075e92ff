"""Sobol' indices against closed forms and independent reference values; refusals."""

import numpy as np
import pytest
from known_answers import (
    ISHIGAMI_FIRST,
    ISHIGAMI_TOTAL,
    RIVER_INPUTS,
    WideChannel,
    assert_shares,
    g_function,
    g_indices,
    ishigami,
    river_cost,
    river_depth,
    river_inputs,
    river_overflow,
    scores,
    standard_error,
    without_noise,
)

from overbank.analysis.groups import grouped
from overbank.analysis.sensitivity import DUMMY, blocks, indices
from overbank.errors import DomainError


def outputs_of(model, samples, dimension, seed):
    z = scores(16, samples, 2 * dimension, seed)
    return np.stack([model(table) for table in blocks(z[..., :dimension], z[..., dimension:])], axis=1)


def assert_within(found, first, total, *, first_error=0.0, total_error=0.0):
    table = without_noise(found.table)
    assert_shares(table, "first", first, error=first_error)
    assert_shares(table, "total", total, error=total_error)


def test_ishigami():
    found = indices(outputs_of(ishigami, 1024, 3, seed=51), ["x1", "x2", "x3"])
    assert_within(found, ISHIGAMI_FIRST, ISHIGAMI_TOTAL)
    assert found.table["input"].tolist() == ["x1", "x2", "x3", DUMMY]
    assert (found.rows, found.dropped, found.warning) == (16 * 1024, 0, "")
    assert np.max(found.table["first_high"] - found.table["first_low"]) < 0.03


@pytest.mark.parametrize(
    ("a", "first", "total"),
    [
        (
            [0, 1, 4.5, 9, 99, 99, 99, 99],
            [0.716192, 0.179048, 0.023676, 0.007162],
            [0.787144, 0.242198, 0.034317, 0.010460],
        ),
        (
            [0, 0.5, 3, 9, 99, 99],
            [0.586781, 0.260792, 0.036674, 0.005868],
            [0.690086, 0.356173, 0.056334, 0.009171],
        ),
        (
            [0, 0.5, 1, 2, 5, 9],
            [0.449497, 0.199776, 0.112374, 0.049944],
            [0.587122, 0.303031, 0.180653, 0.083875],
        ),
    ],
    ids=["eight", "six", "slow"],
)
def test_g_function(a, first, total):
    a = np.array(a, dtype=float)
    exact_first, exact_total = g_indices(a)
    np.testing.assert_allclose(exact_first[:4], first, atol=6e-7)
    np.testing.assert_allclose(exact_total[:4], total, atol=6e-7)
    found = indices(outputs_of(lambda z: g_function(z, a), 1024, a.size, seed=52), [str(i) for i in a])
    assert_within(found, exact_first, exact_total)


# Computed independently with 10 scrambles of 2^19 base points: first order, total, standard error.
RIVER = {
    "S": (
        river_overflow,
        [0.34485, 0.13377, 0.18958, 0.00346, 0.28382, 0.03548, 0.0, 0.00009],
        [0.35359, 0.14225, 0.18993, 0.00381, 0.28382, 0.03548, 0.0, 0.00010],
        1e-5,
    ),
    "H": (
        river_depth,
        [0.69724, 0.27048, 0.00699, 0.00699, 0.0, 0.0, 0.0, 0.00019],
        [0.71492, 0.28762, 0.00770, 0.00770, 0.0, 0.0, 0.0, 0.00020],
        1e-5,
    ),
    "cost": (
        river_cost,
        [0.35758, 0.15730, 0.16871, 0.00388, 0.11854, 0.03020, 0.0, 0.00010],
        [0.48192, 0.25213, 0.22291, 0.00776, 0.17547, 0.03969, 0.0, 0.00019],
        4e-5,
    ),
    "S > -9": (
        lambda x: (river_overflow(x) > -9).astype(float),
        [0.124, 0.063, 0.037, 0.002, 0.041, 0.006, 0.0, 0.0],
        [0.755, 0.582, 0.491, 0.100, 0.529, 0.204, 0.001, 0.015],
        1e-3,
    ),
}


@pytest.mark.parametrize("output", RIVER)
def test_river(output):
    model, first, total, error = RIVER[output]
    found = indices(outputs_of(lambda z: model(river_inputs(z)), 1024, 8, seed=53), RIVER_INPUTS)
    assert_within(found, first, total, first_error=error, total_error=error)
    if output == "H":  # the two inputs that depth does not know of: exactly nothing
        idle = found.table[found.table["input"].isin(["Hd", "Cb"])]
        assert np.all(idle[["first", "total"]] == 0.0)


def test_the_dyke_that_cannot_be_overtopped_is_said_in_words():
    # The largest possible S is -3.66 m: the event S > 0 has no variance.
    with pytest.raises(DomainError, match="does not vary"):
        indices(outputs_of(lambda z: (river_overflow(river_inputs(z)) > 0).astype(float), 64, 8, seed=53), RIVER_INPUTS)


def test_an_output_whose_variance_underflows_is_refused_without_a_warning() -> None:
    """Still water at level 0: levels of 1e-200 m differ, their squares do not. Warnings are errors here."""
    still = np.random.default_rng(5).uniform(0.0, 1e-200, (2, 4, 64))
    with pytest.raises(DomainError, match="does not vary"):
        indices(still, ["a", "b"])


def test_a_group_of_inputs_counts_as_one():
    # Closed form: V = 13.84, of which x1 and x3 together have all but the share of x2.
    together = grouped(["x1", "x2", "x3"], {"outer": ["x1", "x3"]})
    assert together == {"outer": (0, 2), "x2": (1,)}
    z = scores(16, 512, 6, seed=63)
    made = list(blocks(z[..., :3], z[..., 3:], groups=list(together.values())))
    found = indices(np.stack([ishigami(table) for table in made], axis=1), list(together))
    share = ISHIGAMI_FIRST[1]
    assert_within(found, [1 - share, share], [1 - share, share])


def test_a_group_may_hold_inputs_that_depend_on_each_other():
    # y = z1 + z2 + 2 z3 with z2, z3 correlated by 0.5: variance 1 + (1 + 4 + 2), closed form.
    correlation = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.5], [0.0, 0.5, 1.0]])
    root = np.linalg.cholesky(correlation)
    z = scores(16, 512, 6, seed=64)
    made = blocks(z[..., :3], z[..., 3:], correlation, [(0,), (1, 2)])
    outputs = np.stack([(table @ root.T) @ np.array([1.0, 1.0, 2.0]) for table in made], axis=1)
    assert_within(indices(outputs, ["z1", "z2 and z3"]), [1 / 8, 7 / 8], [1 / 8, 7 / 8])
    with pytest.raises(DomainError, match="into one group"):
        blocks(z[..., :3], z[..., 3:], correlation, [(0, 1), (2,)])


@pytest.mark.parametrize(
    ("groups", "words"),
    [
        ({"g": ["a", "x"]}, "'x'"),
        ({"g": []}, "got none"),
        ({"g": ["a"], "h": ["b", "a"]}, "'a' in 'g' too"),
        ({"c": ["a", "b"]}, "a name of its own"),
    ],
)
def test_groups_that_make_no_sense_are_refused(groups, words):
    with pytest.raises(DomainError, match=words):
        grouped(["a", "b", "c"], groups)


def test_wide_channel_indices():
    channel = WideChannel()
    found = indices(
        outputs_of(lambda z: channel.depth(12 * np.exp(0.35 * z[..., 0]), z[..., 1]), 1024, 2, seed=54),
        ["flow", "n"],
    )
    assert_within(found, [0.748391884, 0.240753306], [0.759246694, 0.251608116])  # closed form


def test_intervals_cover_and_are_narrow():
    # Ishigami with 16 x 64 base points, 60 seeds: the scatter of a scrambled design, not that of a bootstrap.
    inside = np.zeros(6)
    for seed in range(60):
        table = indices(outputs_of(ishigami, 64, 3, seed=seed), ["x1", "x2", "x3"], dummy=False).table
        pairs = zip(("first", "total"), (ISHIGAMI_FIRST, ISHIGAMI_TOTAL), strict=True)
        inside += np.concatenate(
            [(table[f"{n}_low"].to_numpy() <= exact) & (exact <= table[f"{n}_high"].to_numpy()) for n, exact in pairs]
        )
    assert np.all(inside / 60 >= 0.80)
    assert np.mean(inside / 60) >= 0.90


def test_the_dummy_is_a_noise_floor_around_zero():
    few = indices(outputs_of(ishigami, 64, 3, seed=55), ["x1", "x2", "x3"]).table.iloc[-1]
    many = indices(outputs_of(ishigami, 2048, 3, seed=55), ["x1", "x2", "x3"]).table.iloc[-1]
    for kind in ("first", "total"):
        error = standard_error(few[f"{kind}_low"], few[f"{kind}_high"], 16)
        assert abs(few[kind]) <= 4 * error
        assert many[f"{kind}_high"] - many[f"{kind}_low"] < 0.3 * (few[f"{kind}_high"] - few[f"{kind}_low"])


def test_small_and_shifted_outputs_keep_their_indices():
    y = outputs_of(ishigami, 256, 3, seed=56)
    plain = indices(y, ["x1", "x2", "x3"]).table
    scaled = indices(1e-12 * y, ["x1", "x2", "x3"]).table
    shifted = indices(y + 1e4, ["x1", "x2", "x3"]).table
    for other in (scaled, shifted):
        np.testing.assert_allclose(plain.iloc[:, 1:].astype(float), other.iloc[:, 1:].astype(float), atol=1e-8)


@pytest.mark.parametrize("block", [0, 1, 2, 4])
def test_a_failed_run_anywhere_is_counted_and_shifts_nothing(block):
    y = outputs_of(ishigami, 256, 3, seed=57)
    y[3, block, 17] = np.nan
    found = indices(y, ["x1", "x2", "x3"])
    assert (found.rows, found.dropped) == (16 * 256, 1)
    without = np.delete(y[3], 17, axis=1)
    by_hand = indices(np.stack([without] * 2), ["x1", "x2", "x3"]).table
    alone = indices(y[[3, 3]], ["x1", "x2", "x3"]).table
    assert alone.equals(by_hand)
    assert_within(found, ISHIGAMI_FIRST, ISHIGAMI_TOTAL)


def test_more_than_one_in_a_hundred_failed_is_refused():
    y = outputs_of(ishigami, 64, 3, seed=58)
    y[:, 2, 0] = np.nan
    with pytest.raises(DomainError, match=r"16 of 1024 rows.*more than 1% is refused"):
        indices(y, ["x1", "x2", "x3"])


def test_infinite_and_constant_outputs_are_refused_in_words():
    y = outputs_of(ishigami, 64, 3, seed=59)
    y[0, 1, 2] = np.inf
    with pytest.raises(DomainError, match=r"1 infinite ones\. Cap the levels"):
        indices(y, ["x1", "x2", "x3"])
    with pytest.raises(DomainError, match="does not vary"):
        indices(np.full((4, 5, 64), 31.27), ["x1", "x2", "x3"])
    for shape in ((4, 4, 64), (4, 5, 64, 2)):
        with pytest.raises(DomainError, match="5, samples"):
            indices(np.zeros(shape), ["x1", "x2", "x3"])


def test_a_very_heavy_tail_is_pointed_out():
    # A conveyance coefficient with mass near zero: variance does not exist.
    heavy = indices(outputs_of(lambda z: np.exp(4 * z[..., 0]) + z[..., 1], 256, 2, seed=60), ["a", "b"])
    assert "heavy tail" in heavy.warning
    light = indices(outputs_of(lambda z: np.exp(0.3 * z[..., 0]) + z[..., 1], 256, 2, seed=60), ["a", "b"])
    assert light.warning == ""


def test_blocks_are_column_copies_made_one_at_a_time():
    z = scores(2, 64, 6, seed=61)
    A, B = z[..., :3], z[..., 3:]
    made = list(blocks(A, B))
    assert len(made) == 5
    assert made[0] is A
    assert made[1] is B
    for column, table in enumerate(made[2:]):
        assert np.array_equal(table[..., column], B[..., column])
        rest = [i for i in range(3) if i != column]
        assert np.array_equal(table[..., rest], A[..., rest])
    assert iter(blocks(A, B)) is not None


def test_dependence_is_refused_and_named():
    z = scores(4, 256, 4, seed=62)
    A, B = z[..., :2], z[..., 2:]
    correlation = np.array([[1.0, 0.1], [0.1, 1.0]])
    with pytest.raises(DomainError, match="Shapley"):
        blocks(A, B, correlation)
    assert len(list(blocks(A, B, np.eye(2)))) == 4
    factor = np.linalg.cholesky(np.array([[1.0, 0.5], [0.5, 1.0]]))
    with pytest.raises(DomainError, match=r"sample correlation of 0\.5"):
        blocks(A @ factor.T, B @ factor.T)
    with pytest.raises(DomainError, match=r"sample correlation of 1\.0"):
        blocks(A, A.copy())
    with pytest.raises(DomainError, match="two tables of shape"):
        blocks(A, B[..., :1])
    broken = A.copy()
    broken[2, 17, 1] = np.nan
    with pytest.raises(DomainError, match="finite scores"):
        blocks(broken, B)


@pytest.mark.parametrize(("replicates", "samples"), [(16, 32), (2, 16), (16, 2), (1, 2), (16, 64), (4, 256)])
def test_few_sobol_points_in_many_dimensions_are_not_taken_for_dependence(replicates, samples):
    # Of 16 columns some pair has a sample correlation beyond 0.4 by chance: 0.47 in the first case.
    z = scores(replicates, samples, 16, seed=73)
    assert len(list(blocks(z[..., :8], z[..., 8:]))) == 10
