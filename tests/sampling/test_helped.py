"""A crew's floods found from those with nobody at work are those that pass with the crew from the beginning."""

from __future__ import annotations

from typing import Any, cast

import numpy as np
import pytest
from numpy.typing import NDArray

from overbank.model import Model
from overbank.sampling.flood import Draws, Flood, flood_of
from overbank.sampling.helped import helped, only_over
from overbank.sampling.passage import Passage, passage
from overbank.study.flow import Flow
from trap import CREW, PLACE, SHAPE, Orifice, some_floods

SIZE = 300
ALL = np.arange(SIZE)
CREWS: dict[str, dict[str, Any]] = {
    "level": CREW,
    "limits": {**CREW, "not_above_m": 6.0, "fails_to_come": 0.3, "daylight_hours": [7.0, 17.0]},
    "patrol": {**CREW, "seen_every_hours": 3.0},
    "forecast": {"called_hours_before_peak": 1.0, "travel_hours": 1.0, "clears_per_hour": 0.1},
    "rise": {"call_rise_m_per_hour": 1.0, "travel_hours": 1.0, "clears_per_hour": 0.1},
}


def made(crew: dict[str, Any]) -> tuple[Flood, Draws, Passage, NDArray[np.float64]]:
    """Floods, what chance does, the floods with nobody at work, and a bank that a third of them reach."""
    debris = {"rate_per_hour": 0.1, "arrivals_per_hour": 0.1, "arrival_share": 0.2, "grows_with": "flow"}
    written = {"design_m3_s": 5.0, "hydrograph": SHAPE, "debris": debris, "crew": crew}
    flow = Flow.model_validate(written, context={"folder": None})
    numbers = {**some_floods(SIZE), "flow.debris.arrivals_per_hour": np.full(SIZE, 0.1)}
    numbers["flow.debris.arrival_share"] = np.full(SIZE, 0.2)
    given = {f"flow.crew.{key}": np.full(SIZE, each) for key, each in crew.items() if isinstance(each, float)}
    given["flow.crew.fails_to_come"] = np.full(SIZE, crew.get("fails_to_come", 0.0))
    flood = flood_of(cast(Model, Orifice()), flow, cast(Any, {**given, **numbers}), SIZE)
    generator = np.random.default_rng(5)
    chance = Draws(generator.random(SIZE), 24.0 * generator.random(SIZE), generator.random(SIZE), (3,))
    bank = np.full(SIZE, np.quantile(passage(flood, PLACE, chance, ALL, crew=False).highest, 0.67))
    return flood, chance, passage(flood, PLACE, chance, ALL, crew=False, told_above=bank), bank


@pytest.mark.parametrize("kind", CREWS)
def test_the_floods_with_a_crew_are_those_of_all_steps(kind: str) -> None:
    """Every level that is told, and when the crew is called; the highest to 2 in a thousand, as by halved steps."""
    flood, chance, alone, bank = made(CREWS[kind])
    whole = passage(flood, PLACE, chance, ALL, crew=True)
    found = helped(flood, PLACE, chance, ALL, alone, bank)
    np.testing.assert_allclose(found.highest, whole.highest, rtol=2e-3)
    np.testing.assert_allclose(found.called, whole.called, rtol=1e-12)
    np.testing.assert_allclose(found.at_work, whole.at_work, rtol=1e-12)
    np.testing.assert_allclose(found.blockage, whole.blockage, atol=1e-12)
    np.testing.assert_array_equal(found.highest > bank, whole.highest > bank)
    over = alone.highest > bank
    assert 0.2 < np.mean(over) < 0.4
    np.testing.assert_array_equal(found.levels[:, over], whole.levels[:, over])
    short = only_over(flood, PLACE, chance, ALL, alone, bank)
    np.testing.assert_array_equal(short.highest[over], whole.highest[over])
    np.testing.assert_array_equal(short.highest > bank, whole.highest > bank)
    assert np.count_nonzero(whole.highest < alone.highest * 0.999) > 5
    if kind != "rise":
        assert np.count_nonzero(np.isneginf(found.levels[0])) > 5
