"""Indices of the event of overtopping from conditional probabilities, against closed forms."""

import numpy as np
import pytest
from known_answers import RIVER_INPUTS, assert_shares, river_inputs, river_overflow, scores, without_noise
from scipy import integrate, stats
from scipy.special import ndtr

from overbank.analysis.sensitivity import DUMMY, blocks, indices
from overbank.analysis.target import target_indices
from overbank.errors import DomainError

NAMES = ["strong", "weak"]
WEIGHTS = np.sqrt([0.75, 0.25])

# Y = 0.866 Z_strong + 0.5 Z_weak, event Y > beta. With c(r) the probability that two unit normals of correlation r
# both exceed beta: first = (c(a^2) - P^2)/(P (1 - P)), total = 1 - (c(1 - a^2) - P^2)/(P (1 - P)).
# beta: first and total of the strong input, first and total of the weak one.
CLOSED = {
    1: (0.48908915, 0.87632892, 0.12367108, 0.51091085),
    2: (0.35903993, 0.94763174, 0.05236826, 0.64096007),
    3: (0.21582434, 0.98895225, 0.01104775, 0.78417566),
    4: (0.11133873, 0.99882881, 0.00117119, 0.88866127),
}


def probabilities(beta, integrated, samples, seed):
    """P(Y > beta | the other input) in the order of the blocks over that one."""
    own = NAMES.index(integrated)
    z = scores(16, samples, 2, seed)
    load = np.stack([WEIGHTS[1 - own] * table[..., 0] for table in blocks(z[..., :1], z[..., 1:])], axis=1)
    return ndtr((load - beta) / WEIGHTS[own])


@pytest.mark.parametrize("beta", CLOSED)
def test_the_closed_forms_by_quadrature(beta):
    P = ndtr(-beta)

    def both(r):  # P(both exceed beta), by conditioning on what they share
        shared = lambda z: stats.norm.pdf(z) * ndtr((np.sqrt(r) * z - beta) / np.sqrt(1 - r)) ** 2  # noqa: E731
        return integrate.quad(shared, -9, 9, epsabs=0, epsrel=1e-11, points=[beta])[0]

    first, other = ((both(share) - P**2) / (P * (1 - P)) for share in (0.75, 0.25))
    np.testing.assert_allclose(CLOSED[beta], [first, 1 - other, other, 1 - first], atol=1e-8)


@pytest.mark.parametrize(("beta", "integrated"), [(beta, integrated) for beta in CLOSED for integrated in NAMES][:-1])
def test_closed_forms(beta, integrated):
    found = target_indices(probabilities(beta, integrated, 1024, seed=81), NAMES, integrated)
    table = without_noise(found.table)
    assert table["input"].tolist() == NAMES
    assert_shares(table, "first", CLOSED[beta][::2])
    assert_shares(table, "total", CLOSED[beta][1::2])
    width = np.max(table[["first_high", "total_high"]].to_numpy() - table[["first_low", "total_low"]].to_numpy())
    if "rare event" not in found.warning:
        assert width < 0.01
        floor = found.table.set_index("input").loc[DUMMY]  # what does nothing has an index of 0, but for noise
        assert abs(floor["first"]) < 0.01
        assert abs(floor["total"]) < 0.01
    assert ("rare event" in found.warning) == ((beta, integrated) in [(3, "weak"), (4, "strong")])


def test_too_rare_for_the_samples_is_refused():
    # The event needs Z_strong near 4, where none of 32 768 samples falls: no figure instead of a wild one.
    with pytest.raises(DomainError, match=r"one sample carries \d\d% of the probability"):
        target_indices(probabilities(4, "weak", 1024, seed=81), NAMES, "weak")


def test_events_one_in_thirty_thousand_keep_two_digits():
    # Two of 65 536 samples at most would show an event; with the strong input integrated out all of them speak.
    table = target_indices(probabilities(4, "strong", 4096, seed=82), NAMES, "strong").table
    np.testing.assert_allclose(table["first"][0], CLOSED[4][0], rtol=0.02)
    np.testing.assert_allclose(table["total"][1], CLOSED[4][3], rtol=0.005)


def river(samples, seed):
    """P(S > -9 | all but Hd): Hd is uniform from 7 to 9, and S falls with it."""
    others = [i for i in range(8) if RIVER_INPUTS[i] != "Hd"]
    z = scores(16, samples, 14, seed)
    found = []
    for table in blocks(z[..., :7], z[..., 7:]):
        full = np.zeros((*table.shape[:2], 8))
        full[..., others] = table
        x = river_inputs(full)
        x[4] = np.zeros(table.shape[:2])
        found.append(np.clip((river_overflow(x) + 9 - 7) / 2, 0, 1))
    return np.stack(found, axis=1)


def test_river():
    # Computed independently: event S > -9, standard error 0.001. A fiftieth of the width that counting gives.
    found = target_indices(river(1024, seed=83), RIVER_INPUTS, "Hd")
    table = without_noise(found.table)
    assert_shares(table, "first", [0.124, 0.063, 0.037, 0.002, 0.041, 0.006, 0.0, 0.0], error=1e-3)
    assert_shares(table, "total", [0.755, 0.582, 0.491, 0.100, 0.529, 0.204, 0.001, 0.015], error=1e-3)
    assert found.table["input"].tolist() == [*RIVER_INPUTS, DUMMY]


def test_narrower_than_counting():
    z = scores(16, 1024, 4, seed=84)
    events = np.stack([(table @ WEIGHTS > 2) * 1.0 for table in blocks(z[..., :2], z[..., 2:])], axis=1)
    counted = indices(events, NAMES).table
    smooth = target_indices(probabilities(2, "weak", 1024, seed=84), NAMES, "weak").table
    for kind in ("first", "total"):
        widths = [(table[f"{kind}_high"] - table[f"{kind}_low"])[:2] for table in (counted, smooth)]
        assert np.all(widths[1] < 0.25 * widths[0])


def test_refusals():
    p = probabilities(2, "weak", 64, seed=85)
    with pytest.raises(DomainError, match="never happens"):
        target_indices(np.zeros_like(p), NAMES, "weak")
    with pytest.raises(DomainError, match="is certain"):
        target_indices(np.ones_like(p), NAMES, "weak")
    with pytest.raises(DomainError, match="between 0 and 1"):
        target_indices(2 * p - 0.5, NAMES, "weak")
    with pytest.raises(DomainError, match="'idle'"):
        target_indices(p, NAMES, "idle")
    with pytest.raises(DomainError, match=r"\(replicates, 3, samples\)"):
        target_indices(p[:, :2], NAMES, "weak")


def test_the_dyke_that_cannot_be_overtopped():
    # S is at most -3.66 m: the conditional probabilities of S > 0 are exactly 0.
    with pytest.raises(DomainError, match="never happens"):
        target_indices(np.clip(river(64, seed=86) - 9, 0, 1), RIVER_INPUTS, "Hd")
