"""Overtopping at several banks: against plain counts of independent samples, and which place goes first."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from overbank.model import Model
from overbank.outputs.outcome import Outcome
from overbank.outputs.places import _first
from overbank.run import run
from shared import shared_run
from small import DEPENDENCE, FLOW, SCREEN, study

COUNTED = 2**16


@pytest.fixture(scope="module", params=["a blockage", "the flow", "nothing"])
def outcome(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """The small study with a garden above, integrated over a blockage, over the flow, and over nothing."""
    folder = tmp_path_factory.mktemp("places")
    if request.param == "a blockage":
        return shared_run(study(folder))
    if request.param == "the flow":
        return shared_run(study(folder, (DEPENDENCE, ""), (SCREEN, "")))
    tailwater = ('{ normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }', "31.0")
    changed = study(folder, (DEPENDENCE, ""), (SCREEN, ""), (FLOW, "design_m3_s = 10.5"), tailwater)
    return run(changed, only=("places", "overtopping"))


def counted(outcome: Outcome) -> dict[str, float]:
    """The same probabilities counted on independent samples with another seed."""
    model = Model(outcome.problem)
    _, values = outcome.problem.inputs.sample("monte_carlo", COUNTED, 4321, 1)
    site = model.march(values[0])
    over = {e.id: e.level > e.bank_level for e in site.elements if e.bank_level is not None}
    both = np.array(list(over.values()))
    events = {**over, "any": both.any(axis=0), "all": both.all(axis=0)}
    return {name: float(np.mean(event)) for name, event in events.items()}


def test_each_any_and_all_agree_with_independent_counts(outcome: Outcome) -> None:
    expected = counted(outcome)
    places = outcome.places
    found = {**{place.id: place.probability for place in places.each}, "any": places.any, "all": places.all}
    assert set(found) == {"lane", "garden", "any", "all"}
    for name, probability in found.items():
        spread = 4.0 * math.sqrt(max(expected[name], 1e-4) / COUNTED)
        half = 0.5 * (probability.high - probability.low)
        assert math.isfinite(half), name
        assert abs(probability.value - expected[name]) < spread + half, name


def test_any_and_all_hold_each_place_between_them(outcome: Outcome) -> None:
    places = outcome.places
    for place in places.each:
        assert places.all.value <= place.probability.value <= places.any.value
    assert sum(place.first.value for place in places.each) == pytest.approx(1.0, abs=1e-9)


def test_the_answer_of_the_place_is_that_of_the_table(outcome: Outcome) -> None:
    (own,) = (place for place in outcome.places.each if place.id == outcome.place)
    assert own.probability.value == outcome.overtopping.best.value


def test_the_first_place_has_the_least_critical_value() -> None:
    critical = np.array([[[0.2, 0.5, np.inf, 0.3]], [[0.4, 0.1, 0.9, 0.3]]])
    shares = _first(critical, np.zeros((2, 1, 4)))
    np.testing.assert_array_equal(shares, [[[1.0, 0.0, 0.0, 0.5]], [[0.0, 1.0, 1.0, 0.5]]])


def test_among_places_always_over_the_deepest_counts_as_first() -> None:
    critical = np.array([[[-np.inf, -np.inf, -np.inf]], [[-np.inf, 0.2, -np.inf]]])
    lowest = np.array([[[0.1, 0.1, 0.3]], [[0.4, -0.5, 0.3]]])
    shares = _first(critical, lowest)
    np.testing.assert_array_equal(shares, [[[0.0, 1.0, 0.5]], [[1.0, 0.0, 0.5]]])


def test_one_bank_makes_no_table(tmp_path: Path) -> None:
    from overbank.report import tables

    found = run(study(tmp_path, ("samples = 4096", "samples = 1024"), ("bank_level_m = 32.45\n", "")), only=("places",))
    assert tables.places(found) == ()
