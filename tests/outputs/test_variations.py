"""A climate to come, and the answers with one assumption changed: each the same as a study written so."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from scipy.stats import norm

from overbank.run import run
from small import BLOCKAGE, DEPENDENCE, study

FEWER = ("samples = 4096", "samples = 1024")
FLOW = 'design_m3_s = { lognormal = { median = 6.0, cov = 0.2 }, basis = "invented", evidence = "judgement" }'
GARDEN = 'manning_n = { lognormal = { median = 0.05, cov = 0.2 }, basis = "invented" }'
ONLY = ("headwater", "overtopping", "variations")


def gumbel(location: float, scale: float, climate: str = "") -> tuple[str, str]:
    annual = f"annual = {{ gumbel = {{ location = {location}, scale = {scale} }} }}"
    return FLOW, f"design_m3_s = 6.0\n{climate}{annual}"


def test_a_certain_factor_is_the_flow_times_it(tmp_path: Path) -> None:
    times = run(study(tmp_path / "a", FEWER, (FLOW, f"{FLOW}\nclimate_factor = 1.2")), only=ONLY)
    larger = run(study(tmp_path / "b", FEWER, (FLOW, FLOW.replace("6.0", "7.2"))), only=ONLY)
    plain = run(study(tmp_path / "c", FEWER), only=ONLY)
    assert times.headwater.quantiles[0.9].value == pytest.approx(larger.headwater.quantiles[0.9].value, abs=1e-6)
    assert times.overtopping.plain.value == larger.overtopping.plain.value
    was = {each.name: each for each in times.variations}["the climate as it was"]
    assert was.probability.value == plain.overtopping.plain.value
    assert was.more is not None
    assert was.more.value == pytest.approx(plain.overtopping.plain.value - times.overtopping.plain.value)


def test_floods_of_a_year_take_the_factor_too(tmp_path: Path) -> None:
    """A Gumbel distribution times a number is one with both parameters times it."""
    no_pair = (DEPENDENCE, "")
    times = run(study(tmp_path / "a", FEWER, no_pair, gumbel(2.4, 0.6, "climate_factor = 1.25\n")), only=("annual",))
    larger = run(study(tmp_path / "b", FEWER, no_pair, gumbel(3.0, 0.75)), only=("annual",))
    assert times.annual is not None
    assert larger.annual is not None
    assert times.annual.probability.value == pytest.approx(larger.annual.probability.value, rel=1e-3)


def test_an_uncertain_factor_widens_the_flow_as_a_product_of_lognormals(tmp_path: Path) -> None:
    """ln of a product of independent lognormals is normal, with the sum of both variances."""
    climate = "climate_factor = { lognormal = { median = 1.2, cov = 0.15 } }"
    spread = math.sqrt(math.exp(math.log1p(0.2**2) + math.log1p(0.15**2)) - 1.0)
    no_pair = (DEPENDENCE, "")
    times = run(study(tmp_path / "a", FEWER, no_pair, (FLOW, f"{FLOW}\n{climate}")), only=("headwater",))
    product = FLOW.replace("median = 6.0, cov = 0.2", f"median = 7.2, cov = {spread:.10f}")
    one = run(study(tmp_path / "b", FEWER, no_pair, (FLOW, product)), only=("headwater",))
    assert "flow.climate_factor" in times.problem.inputs.names
    for share in (0.5, 0.9):
        a, b = times.headwater.quantiles[share], one.headwater.quantiles[share]
        allowed = norm.ppf(0.9998) / norm.ppf(0.975) * 0.5 * math.hypot(a.high - a.low, b.high - b.low)
        assert a.value == pytest.approx(b.value, abs=allowed)


def test_each_assumption_changed_is_the_study_written_so(tmp_path: Path) -> None:
    stated = run(study(tmp_path / "a", FEWER), only=ONLY)
    found = {each.name.replace("\u00a0", " "): each for each in stated.variations}
    assert found["as stated"].probability.value == stated.overtopping.plain.value
    free = run(study(tmp_path / "b", FEWER, (DEPENDENCE, "")), only=("overtopping",))
    assert found["no number depends on another"].probability.value == free.overtopping.plain.value
    rough = (
        ("downstream_invert_m = 30.00, manning_n = 0.014", "downstream_invert_m = 30.00, manning_n = 0.0168"),
        (GARDEN, GARDEN.replace("median = 0.05", "median = 0.06")),
    )
    rougher = run(study(tmp_path / "c", FEWER, *rough), only=("overtopping",))
    assert found["every roughness 20 % higher"].probability.value == rougher.overtopping.plain.value
    wetter = run(study(tmp_path / "d", FEWER, (FLOW, FLOW.replace("6.0", "6.6"))), only=("overtopping",))
    assert found["10 % more flow"].probability.value == wetter.overtopping.plain.value
    assert found["10 % less flow"].probability.value < stated.overtopping.plain.value
    raised = run(
        study(tmp_path / "e", FEWER, ("mean = 31.0, sd = 0.1", "mean = 31.1, sd = 0.1")), only=("overtopping",)
    )
    assert found["the water below the site 0.1 m higher"].probability.value == raised.overtopping.plain.value
    more = found["every roughness 20 % higher"].more
    assert more is not None
    assert more.value == pytest.approx(rougher.overtopping.plain.value - stated.overtopping.plain.value, abs=1e-12)


def test_a_tenth_shut_as_well_is_a_blockage_written_so(tmp_path: Path) -> None:
    """Open is 1 - b; with a tenth of that shut too, b + (1 - b) / 10 is: 0.5 becomes 0.55."""
    half, more = (study(tmp_path / str(b), FEWER, (BLOCKAGE, f"blockage = {b}"), (DEPENDENCE, "")) for b in (0.5, 0.55))
    found = {each.name.replace("\u00a0", " "): each for each in run(half, only=("variations",)).variations}
    shut = run(more, only=("overtopping",)).overtopping
    assert 0.0 < shut.plain.value < 1.0
    assert found["10 % of what is open shut as well"].probability.value == shut.plain.value
