"""What a whole run learns from floods seen, against conjugate normal models of a pond."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import gumbel_r, norm

from overbank.files.samples import sample_table
from overbank.outputs.learnt import Taught
from overbank.outputs.outcome import Outcome
from overbank.run import run
from pond import BANK, DESIGN, FLOW_SD, LEVEL, LEVEL_SD, SHIFT_SD, pond
from small import study


def observation(flow: str, level: float, sd: float) -> str:
    return f"\n[[observation]]\nflow_m3_s = {flow}\nlevel_m = {level}\nsd_m = {sd}\n"


def taught(outcome: Outcome) -> Taught:
    assert outcome.learnt is not None
    assert outcome.learnt.refusal == ""
    assert outcome.learnt.taught is not None
    return outcome.learnt.taught


def posterior(*floods: tuple[float, float]) -> tuple[float, float]:
    """Mean and sd of the shift from (what it seemed to be, sd of that): conjugate normal (closed form)."""
    precision = 1.0 / SHIFT_SD**2 + sum(1.0 / sd**2 for _, sd in floods)
    return sum(seen / sd**2 for seen, sd in floods) / precision, 1.0 / math.sqrt(precision)


def test_one_flood_with_an_uncertain_flow(tmp_path: Path) -> None:
    """The error of the flow adds 0.1 * 0.7 m to that of the mark."""
    seen = observation("{ normal = { mean = 3.0, sd = 0.7 } }", 10.42, 0.06)
    outcome = run(pond(tmp_path, more=seen), only=("learnt",))
    found = taught(outcome)
    mean, sd = posterior((0.12, math.hypot(0.06, 0.07)))
    shift = found.inputs.set_index("input").loc["tailwater.rating_shift_m"]
    assert shift["posterior_mean"] == pytest.approx(mean, abs=0.002)
    assert shift["posterior_sd"] == pytest.approx(sd, rel=0.02)
    assert shift["posterior_95"] == pytest.approx(mean + sd * norm.ppf(0.95), abs=0.005)
    flow = found.inputs.set_index("input").loc["flow.design_m3_s"]
    assert flow["posterior_mean"] == pytest.approx(5.0, abs=0.03)
    after = math.hypot(0.1 * FLOW_SD, sd)
    assert found.probability.prior.value == pytest.approx(norm.sf((BANK - LEVEL) / LEVEL_SD), abs=0.005)
    assert found.probability.posterior.value == pytest.approx(norm.sf((BANK - LEVEL - mean) / after), abs=0.01)
    assert found.level.prior.value == pytest.approx(LEVEL + LEVEL_SD * norm.ppf(0.9), abs=0.002)
    assert found.level.posterior.value == pytest.approx(LEVEL + mean + after * norm.ppf(0.9), abs=0.006)
    for both in (found.level, found.probability):
        assert both.posterior.low < both.posterior.value < both.posterior.high
    assert outcome.learnt is not None
    (flood,) = outcome.learnt.seen
    spread = math.hypot(SHIFT_SD, 0.07)
    for share, level in flood.foretold.items():
        assert level == pytest.approx(10.3 + spread * norm.ppf(share), abs=0.006)
    assert found.chances[0] == pytest.approx(2.0 * norm.sf(0.12 / math.hypot(spread, 0.06)), abs=0.01)


def test_effective_samples_and_weights(tmp_path: Path) -> None:
    """Of a normal prior and likelihood: (sum w)^2 / sum w^2, both integrals in closed form."""
    error = 0.08
    outcome = run(pond(tmp_path, more=observation("3.0", 10.35, error)), only=("learnt",))
    found = taught(outcome)
    total = norm.pdf(0.05, 0.0, math.hypot(SHIFT_SD, error))
    squares = norm.pdf(0.05, 0.0, math.hypot(SHIFT_SD, error / math.sqrt(2.0))) / (2.0 * error * math.sqrt(math.pi))
    assert found.effective / found.weights.size == pytest.approx(total**2 / squares, rel=0.02)
    table = sample_table(outcome)
    assert table["weight"].sum() == pytest.approx(1.0)
    mean, _ = posterior((0.05, error))
    assert np.average(table["tailwater.rating_shift_m"], weights=table["weight"]) == pytest.approx(mean, abs=0.002)


def test_two_floods_add_their_precisions(tmp_path: Path) -> None:
    more = observation("3.0", 10.38, 0.08) + observation("{ normal = { mean = 4.0, sd = 0.5 } }", 10.35, 0.05)
    found = taught(run(pond(tmp_path, more=more), only=("learnt",)))
    mean, sd = posterior((0.08, 0.08), (-0.05, math.hypot(0.05, 0.05)))
    shift = found.inputs.set_index("input").loc["tailwater.rating_shift_m"]
    assert shift["posterior_mean"] == pytest.approx(mean, abs=0.002)
    assert shift["posterior_sd"] == pytest.approx(sd, rel=0.02)


def test_a_flood_seen_tells_of_the_floods_of_a_year(tmp_path: Path) -> None:
    """P(year) = E[P(0.1 Q > bank - 10 - shift)] over the posterior shift, which is normal: by quadrature."""
    maxima = "annual = { gumbel = { location = 3.0, scale = 0.6 } }"
    yearly = (DESIGN, f"design_annual_probability = 0.01\n{maxima}\ndesign_life_years = 20")
    found = taught(
        run(
            pond(tmp_path, yearly, more=observation("{ normal = { mean = 3.0, sd = 0.7 } }", 10.42, 0.06)),
            only=("learnt",),
        )
    )
    nodes = np.linspace(-6.0, 6.0, 2001)
    weights = norm.pdf(nodes) / norm.pdf(nodes).sum()

    def once(mean: float, sd: float, years: int) -> float:
        flow = 10.0 * (BANK - 10.0 - (mean + sd * nodes))
        return float(weights @ (1.0 - gumbel_r.cdf(flow, 3.0, 0.6) ** years))

    mean, sd = posterior((0.12, math.hypot(0.06, 0.07)))
    assert set(found.over) == {10, 30, 50}
    for both, years in ((found.year, 1), (found.life, 20), *((each, many) for many, each in found.over.items())):
        assert both is not None
        assert both.prior.value == pytest.approx(once(0.0, SHIFT_SD, years), rel=0.03)
        assert both.posterior.low < once(mean, sd, years) < both.posterior.high
        assert both.posterior.high - both.posterior.low < 0.2 * both.posterior.value
    for probability, both in found.assurance.items():
        free = BANK - 10.0 - 0.1 * gumbel_r.isf(probability, 3.0, 0.6)
        assert both.prior.value == pytest.approx(norm.cdf(free, 0.0, SHIFT_SD), abs=0.01)
        assert both.posterior.value == pytest.approx(norm.cdf(free, mean, sd), abs=0.03)


def test_what_goes_with_what_is_learnt_is_told_of_too(tmp_path: Path) -> None:
    """A shift anew in each flood, with half of it known to go with the bank: bivariate normal, in closed form."""
    new = ('basis = "invented" }\n\n[[element]]', 'basis = "invented", kind = "each flood" }\n\n[[element]]')
    bank = ("bank_level_m = 10.6", "bank_level_m = { normal = { mean = 10.6, sd = 0.1 } }")
    pair = '\n[[dependence]]\nbetween = ["pond.bank_level_m", "tailwater.rating_shift_m"]\nrank_correlation = 0.7\n'
    outcome = run(pond(tmp_path, new, bank, more=observation("3.0", 10.42, 0.06) + pair))
    found = taught(outcome)
    assert outcome.learnt is not None
    assert (outcome.learnt.anew, outcome.learnt.told) == ((), ("tailwater.rating_shift_m",))
    r = 2.0 * math.sin(math.pi * 0.7 / 6.0)
    # the shift of the flood seen is SHIFT_SD (r b + sqrt(1 - r^2) e), seen as 0.12 with an error of 0.06
    gain = r * SHIFT_SD / (SHIFT_SD**2 + 0.06**2)
    inputs = found.inputs.set_index("input")
    sd = math.sqrt(1.0 - r * SHIFT_SD * gain)
    known = inputs.loc["pond.bank_level_m"]
    assert known["posterior_mean"] == pytest.approx(10.6 + 0.1 * 0.12 * gain, abs=0.004)
    assert known["posterior_sd"] == pytest.approx(0.1 * sd, rel=0.03)
    assert inputs.loc["tailwater.rating_shift_m"]["posterior_mean"] == pytest.approx(
        SHIFT_SD * r * 0.12 * gain, abs=0.004
    )


def test_what_comes_out_anew_is_not_learnt(tmp_path: Path) -> None:
    """The shift declared new in each flood: it only blurs the observation, and the answers stay as they are."""
    new = ('basis = "invented" }\n\n[[element]]', 'basis = "invented", kind = "each flood" }\n\n[[element]]')
    outcome = run(pond(tmp_path, new, more=observation("3.0", 10.42, 0.06)), only=("learnt",))
    found = taught(outcome)
    assert outcome.learnt is not None
    assert outcome.learnt.anew == ("tailwater.rating_shift_m",)
    shift = found.inputs.set_index("input").loc["tailwater.rating_shift_m"]
    assert shift["posterior_mean"] == pytest.approx(0.0, abs=0.004)
    assert shift["posterior_sd"] == pytest.approx(SHIFT_SD, rel=0.02)
    assert found.probability.posterior.value == pytest.approx(found.probability.prior.value, abs=0.01)


def test_a_contradiction_is_told_and_the_run_goes_on(tmp_path: Path) -> None:
    told = pond(tmp_path, ("samples = 8192", "samples = 1024"), more=observation("3.0", 12.0, 0.05))
    outcome = run(told, only=("learnt", "overtopping"))
    assert outcome.learnt is not None
    assert outcome.learnt.taught is None
    assert "observation 1: the observation contradicts the model" in outcome.learnt.refusal
    assert outcome.learnt.seen[0].foretold[0.5] == pytest.approx(10.3, abs=0.01)
    assert "weight" not in sample_table(outcome)
    assert outcome.overtopping.best.value == pytest.approx(norm.sf((BANK - LEVEL) / LEVEL_SD), abs=0.01)


def test_nothing_seen_nothing_learnt(tmp_path: Path) -> None:
    plain = pond(tmp_path, ("samples = 8192", "samples = 1024"))
    assert run(plain, only=("learnt",)).learnt is None


def test_a_level_below_the_site_whatever_the_flow_is_told(tmp_path: Path) -> None:
    seen = observation("4.0", 31.4, 0.2) + "\n[[dependence]]"
    told = study(tmp_path, ("\n[[dependence]]", seen), ("samples = 4096", "samples = 1024"))
    outcome = run(told, only=("learnt", "overtopping"))
    assert outcome.learnt is not None
    assert set(outcome.learnt.anew) == {"tailwater.level_m", "lane.screen.blockage"}
    assert "as high as in the design flood" in outcome.learnt.notes[0]
    found = taught(outcome)
    counted = float(np.sum(found.weights * (outcome.samples.depth_over_bank > 0.0)))
    assert outcome.overtopping.integrated == "lane.screen.blockage"
    assert counted == pytest.approx(found.probability.posterior.value, abs=0.03)
    assert found.probability.posterior.high - found.probability.posterior.low < 0.03


def test_the_design_flow_may_be_certain(tmp_path: Path) -> None:
    certain = (DESIGN, "design_m3_s = 5.0")
    told = pond(tmp_path, certain, ("samples = 8192", "samples = 1024"), more=observation("3.0", 10.4, 0.1))
    found = taught(run(told, only=("learnt",)))
    assert list(found.inputs["input"]) == ["tailwater.rating_shift_m"]
