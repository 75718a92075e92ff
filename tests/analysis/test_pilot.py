"""The choice of the integrated input against closed forms and the toy crossing."""

import numpy as np
import pytest
from known_answers import BLOCKAGE_RULES, FLOW_RULES, Toy, four_branches, scores
from scipy.special import ndtr
from scipy.stats import multivariate_normal

from overbank.analysis.ladder import critical, tail_probability
from overbank.analysis.pilot import Trial, choose
from overbank.errors import DomainError

BLOCKAGES = np.array([0.0, 0.2, 0.4, 0.6, 0.8, 1.0])
SCORES = np.array([-8.0, -4.0, 0.0, 4.0, 8.0])


def trial(name, nodes, depths, score_below=lambda x: x):
    crossing = critical(nodes, depths[:, None, :])
    return Trial(name, depths, tail_probability(crossing.value[0], score_below, 0.0, 1.0))


def toy_trials(toy, samples=1024):
    """Blockage, flow and the least of the other terms as candidates; five normal scores and that of the blockage."""
    z = scores(1, samples, 6, seed=1)[0]
    load, own = toy.load(z[:, :5]), toy.blockage(z[:, 5])
    found = [trial("blockage", BLOCKAGES, toy.depth_over_bank(BLOCKAGES[:, None], load), toy.score_below)]
    for name, column in (("flow", 0), ("loss", 4)):
        others = load - toy.sigma[column] * z[:, column]
        found.append(trial(name, SCORES, toy.depth_over_bank(own, others + toy.sigma[column] * SCORES[:, None])))
    return found


@pytest.mark.parametrize(
    ("toy", "best", "samples"),
    [
        (BLOCKAGE_RULES, "blockage", 64),  # variance down 122 times (computed independently)
        (BLOCKAGE_RULES, "blockage", 1024),
        (FLOW_RULES, "flow", 1024),  # 5.5 times, and 3.2 times by the blockage (computed independently)
        (Toy(1.0, FLOW_RULES.limit, clean=0.7), "flow", 2**14),  # an atom at clean spoils the blockage
    ],
)
def test_the_input_that_rules_is_chosen(toy, best, samples):
    choice = choose(toy_trials(toy, samples), 1e-9)
    assert choice.name == best
    by_name = {candidate.name: candidate for candidate in choice.candidates}
    assert by_name[best].removed > by_name["loss"].removed
    assert choice.words.startswith(f"{best}: the depth over the bank never falls; integrating it out removes ")


def test_few_events_are_told():
    one_counts = Trial("x", np.zeros((2, 64)), np.concatenate([[0.01], np.full(63, 1e-9)]))
    assert choose([one_counts], 1e-9).words.endswith("few events in the pilot, so another input might serve better")
    assert "few events" not in choose(toy_trials(BLOCKAGE_RULES, 1024), 1e-9).words


@pytest.mark.parametrize(("share", "total"), [(0.75, 0.87632892), (0.25, 0.51091085)])
def test_what_is_removed_is_the_total_target_index(share, total):
    # two unit normals, event above beta = 1: total = 1 - (c - P^2)/(P(1 - P)), c = P(both of two normals with
    # correlation 1 - share exceed 1); one-dimensional quadrature, computed independently
    P = ndtr(-1.0)
    c = multivariate_normal.cdf([-1, -1], mean=[0, 0], cov=[[1, 1 - share], [1 - share, 1]])
    assert 1 - (c - P**2) / (P * (1 - P)) == pytest.approx(total, abs=1e-5)
    z = scores(1, 2**14, 1, seed=2)[0, :, 0]
    depths = np.sqrt(share) * SCORES[:, None] + np.sqrt(1 - share) * z - 1.0
    (candidate,) = choose([trial("x", SCORES, depths)], 1e-9).candidates
    assert candidate.removed == pytest.approx(total, abs=2e-4)
    assert candidate.probability == pytest.approx(P, rel=1e-3)
    assert candidate.falls == 0.0


def test_an_input_with_which_the_depth_falls_is_not_chosen():
    u = scores(1, 512, 1, seed=3)[0, :, 0]
    integrated = np.broadcast_to(SCORES[:, None], (SCORES.size, 512))
    both_ways = -four_branches(np.stack([integrated, np.broadcast_to(u, integrated.shape)], axis=-1), 7)
    choice = choose([trial("x", SCORES, both_ways)], 1e-9)
    assert choice.name is None
    assert choice.candidates[0].falls == 1.0
    assert "not to be integrated out" in choice.candidates[0].words
    rising = SCORES[:, None] + u
    assert choose([trial("x", SCORES, both_ways), trial("y", SCORES, rising)], 1e-9).name == "y"


@pytest.mark.parametrize(("bad", "used"), [(10, True), (11, False)])
@pytest.mark.parametrize("number", [-9.0, np.nan])
def test_one_sample_in_a_hundred_may_fall_or_fail(bad, used, number):
    depths = SCORES[:, None] + np.zeros(1000)
    depths[-1, :bad] = number
    choice = choose([trial("x", SCORES, depths)], 1e-3)
    assert (choice.name == "x") is used
    assert ("failed" in choice.words or "failed" in choice.candidates[0].words) is bool(np.isnan(number))


def test_a_fall_within_the_tolerance_is_none():
    depths = np.array([0.0, -0.01, 1.0])[:, None] + np.zeros(20)
    assert choose([trial("x", SCORES[:3], depths)], 0.02).candidates[0].falls == 0.0
    assert choose([trial("x", SCORES[:3], depths)], 0.005).candidates[0].falls == 1.0


def test_a_candidate_whose_events_the_pilot_missed_does_not_win():
    seen = Trial("seen", np.zeros((2, 4)), np.array([0.01, 0.02, 0.01, 0.03]))
    nothing = Trial("nothing", np.zeros((2, 4)), np.zeros(4))
    hardly = Trial("hardly", np.zeros((2, 4)), np.array([1e-30, 1e-9, 0.0, 1e-20]))
    assert choose([nothing, hardly, seen], 1e-9).name == "seen"
    first = choose([nothing, Trial("other", np.zeros((2, 4)), np.zeros(4))], 1e-9)
    assert first.name == "nothing"
    assert first.words == "nothing: the depth over the bank never falls; no sample of the pilot goes over the bank"


def test_a_certain_event_and_lost_samples_are_told():
    found = choose([Trial("x", np.ones((2, 4)), np.ones(4))], 1e-9)
    assert found.words == "x: the depth over the bank never falls; every sample of the pilot goes over the bank"
    lost = choose([Trial("x", np.full((2, 4), np.nan), np.full(4, np.nan))], 1e-9)
    assert lost.name is None
    assert lost.candidates[0].failed == 1.0


def test_bad_trials_are_refused():
    with pytest.raises(DomainError, match="at least one candidate"):
        choose([], 1e-9)
    with pytest.raises(DomainError, match="integrated input x: expected depths over the bank"):
        choose([Trial("x", np.zeros((2, 4)), np.zeros(3))], 1e-9)
