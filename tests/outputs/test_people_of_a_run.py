"""People in a run: quantiles and shares are those of its own samples, counted here again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import overbank
from overbank.errors import StudyError
from overbank.outputs.outcome import Outcome
from overbank.outputs.people import People
from overbank.run import run
from small import SCREEN, edited, study, written

SMALLER = ("samples = 4096", "samples = 1024")
SAID = (
    'id = "lane"',
    'id = "lane"\npeople = { adult_area_m2 = 0.5, land_use = "woodland", hazard_edition = "first report" }',
)
RAKED = (
    "overflow = true",
    "overflow = true\nraking = { platform_level_m = 32.3, rake_length_m = 1.5, cross_bars = false }",
)


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    return run(study(tmp_path_factory.mktemp("people"), SMALLER, SAID, RAKED), only=("people",))


@pytest.fixture(scope="module")
def lane(outcome: Outcome) -> People:
    (found,) = outcome.people
    return found


def results(outcome: Outcome) -> dict[str, np.ndarray]:
    return outcome.samples.site.element("lane").results


def test_quantiles_are_those_of_the_samples(outcome: Outcome, lane: People) -> None:
    """The drag on 0.5 m2 by hand from the approach velocity: 0.5 * 1000 * 1.2 * 0.5 V^2; the pressure 9810 * 0.5 dh."""
    known = results(outcome)
    behind = np.where(
        known["barrel_flow"] > 0.0, known["barrel_level"], np.maximum(outcome.samples.site.tailwater, 30.1)
    )
    drop = known["level"] - behind
    expected = {
        "head_difference_m": drop,
        "approach_velocity_m_s": known["screen_velocity"],
        "adult_drag_n": 300.0 * known["screen_velocity"] ** 2,
        "adult_pressure_n": 4905.0 * np.maximum(drop, 0.0),
        "child_most_n": 180.0 * known["screen_velocity"] ** 2 + 2943.0 * np.maximum(drop, 0.0),
        "free_air_m": np.maximum(1.5 - np.maximum(known["depth_in"], known["depth_out"]), 0.0),
    }
    figures = {each.name: each for each in lane.figures}
    for name, values in expected.items():
        for share, found in figures[name].quantiles.items():
            exact = np.quantile(values, share, method="inverted_cdf")
            assert found.value == pytest.approx(exact, rel=1e-9, abs=1e-9), (name, share)
            assert found.low <= found.value <= found.high
    once = outcome.deterministic.element("lane").results
    assert figures["head_difference_m"].certain == pytest.approx(once["screen_drop"][0])
    assert figures["length_m"].quantiles[0.5].value == 22.0


def test_shares_of_the_classes_add_up_with_what_is_dry(outcome: Outcome, lane: People) -> None:
    assert [each.place for each in lane.hazards] == ["before the screen", "over the road", "over the bank"]
    for each in lane.hazards:
        for shares in (each.ratings, each.general):
            assert sum(share.value for share in shares.values()) == pytest.approx(each.wet.value)
    before, road, _ = lane.hazards
    assert before.wet.value == 1.0
    assert road.wet.value == np.mean(results(outcome)["road_flow"] > 0.0)
    # by hand, woodland, bounds of the first report: depth above the sill at 30.10 m; 0.25 to 0.75 m adds 0.5, deeper 1
    known = results(outcome)
    depth, velocity = known["level"] - 30.1, known["screen_velocity"]
    rating = depth * (velocity + 0.5) + np.where(depth > 0.75, 1.0, 0.5)
    assert before.ratings["all"].value == np.mean(rating >= 2.5)
    assert before.ratings["all"].value > 0.0
    assert before.rating[0.5].value == pytest.approx(np.quantile(rating, 0.5, method="inverted_cdf"))


def test_facts_of_raking(outcome: Outcome, lane: People) -> None:
    facts = lane.raking
    assert facts is not None
    assert (facts.inclination_deg, facts.along_bars_m) == (90.0, 1.9)
    assert (facts.platform_level_m, facts.rake_length_m, facts.cross_bars) == (32.3, 1.5, False)
    assert facts.to_foot_m == pytest.approx(2.2)  # from 32.30 m down to 30.10 m, upright
    assert facts.platform_wet is not None
    assert facts.platform_wet.value == np.mean(results(outcome)["level"] > 32.3)


def test_what_is_taken_of_people_is_said(outcome: Outcome, lane: People) -> None:
    assert (lane.land_use, lane.edition) == ("woodland", "first report")
    said = " ".join(f"{what}: {basis}" for what, basis in lane.taken.items())
    assert "adult 0.5 m²: not stated" in said
    assert said.count("from memory, unverified") == 2  # drag coefficient and child stay the program's own
    listed = {item.name: item.assumed for item in outcome.problem.assumptions if item.name.startswith("lane.people.")}
    assert listed["lane.people.adult_area_m2"] is False
    assert listed["lane.people.child_area_m2"] is True


def test_tables(outcome: Outcome, lane: People) -> None:
    tables = overbank.tables(outcome)
    people = tables["people"].set_index("figure")
    assert people.loc["head_difference_m", "quantile_95"] == lane.figures[0].quantiles[0.95].value
    assert set(people["side"]) == {"screen", "barrel"}
    hazards = tables["hazards"]
    assert len(hazards) == 3 * (4 + 6)
    assert hazards["share"].between(0.0, 1.0).all()


def test_without_a_screen_only_the_barrel_is_told(tmp_path: Path) -> None:
    text = edited(SMALLER, (SCREEN, ""), ("lane.screen.blockage", "garden.manning_n"))
    (found,) = run(overbank.read_study(written(tmp_path, text)), only=("people",)).people
    assert {each.side for each in found.figures} == {"barrel"}
    assert found.raking is None
    assert found.hazards[0].place == "before the inlet"


@pytest.mark.parametrize(
    ("written_as", "expected"),
    [
        ('land_use = "wood"', '"pasture or arable", "woodland" or "urban"'),
        ('hazard_edition = "2008"', '"note of 2008" or "first report"'),
        ("drag_coefficient = 12", "a drag coefficient from 0.5 to 2"),
        ("adult_area_m2 = { normal = { mean = 0.6, sd = 0.1 } }", "one certain number"),
    ],
)
def test_what_cannot_be_is_refused(tmp_path: Path, written_as: str, expected: str) -> None:
    with pytest.raises(StudyError, match=r"lane\.people") as caught:
        study(tmp_path, ('id = "lane"', f'id = "lane"\npeople = {{ {written_as} }}'))
    (fault,) = caught.value.faults
    assert expected in fault.expected
