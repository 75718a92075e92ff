"""Targets at a pond whose level is normal: closed forms; where target and assurance disagree the page says so."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import gumbel_r, norm

from overbank.errors import OverbankError
from overbank.report.sections.targets import stricter
from overbank.run import run
from pond import BANK, LEVEL, LEVEL_SD, SHIFT_SD, pond

ONLY = ("headwater", "overtopping", "targets")
ANNUAL = 'basis = "invented" }\nannual = { gumbel = { location = 3.0, scale = 0.6 } }\ndesign_life_years = 50\n\n[tail'
WITH_YEARS = ('basis = "invented" }\n\n[tail', ANNUAL)


def annual_exceedance(level: float) -> float:
    """P(10 + Q/10 + shift > level) with Q Gumbel(3.0, 0.6) and a normal shift, by quadrature (Gauss-Hermite)."""
    z, weights = np.polynomial.hermite_e.hermegauss(80)
    tail = gumbel_r.sf(10.0 * (level - 10.0 - SHIFT_SD * z), 3.0, 0.6)
    return float(np.sum(weights * tail) / np.sum(weights))


def test_the_bank_that_meets_the_target_is_the_quantile_of_a_normal_level(tmp_path: Path) -> None:
    (found,) = run(pond(tmp_path), only=ONLY).targets
    exact = norm.isf(0.1, LEVEL, LEVEL_SD)
    assert found.level.low <= exact <= found.level.high
    assert found.level.value == pytest.approx(exact, abs=0.003)
    assert found.rise == pytest.approx(exact - BANK, abs=0.003)
    assert found.allowance is None
    assert found.largest is None


def test_an_assurance_left_out_follows_from_the_target(tmp_path: Path) -> None:
    made = run(pond(tmp_path, ("assurance = 0.9\n", ""), ("0.1\n", "0.05\n")), only=ONLY)
    assert made.assurance == 0.95
    assert stricter(made) == ""
    assert made.targets[0].level.value == made.headwater.quantiles[0.95].value


@pytest.mark.parametrize(("assurance", "which"), [("0.8", "accepted probability"), ("0.99", "assurance")])
def test_where_they_disagree_the_stricter_is_named(tmp_path: Path, assurance: str, which: str) -> None:
    made = run(pond(tmp_path, ("assurance = 0.9\n", f"assurance = {assurance}\n")), only=ONLY)
    assert [each.sense for each in made.targets] == ["in the design flood", "assurance"]
    assert f"the {which} is the stricter" in stricter(made)


def test_targets_in_a_year_and_over_a_life_against_quadrature(tmp_path: Path) -> None:
    stated = ("assurance = 0.9\n", "assurance = 0.9\ntarget_in_a_year = 0.02\ntarget_over_life = 0.3\n")
    _, year, life = run(pond(tmp_path, stated, WITH_YEARS), only=ONLY).targets
    assert (year.accepted, life.accepted, year.wanted, life.wanted) == (0.02, 0.3, True, True)
    assert annual_exceedance(year.level.value) == pytest.approx(0.02, rel=0.02)
    each = 1.0 - (1.0 - 0.3) ** (1.0 / 50.0)
    assert annual_exceedance(life.level.value) == pytest.approx(each, rel=0.03)
    assert year.found is not None
    assert year.found.value == pytest.approx(annual_exceedance(BANK), rel=0.02)


def test_a_target_over_years_without_annual_maxima_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OverbankError, match="target_in_a_year only beside annual maxima"):
        pond(tmp_path, ("assurance = 0.9\n", "assurance = 0.9\ntarget_in_a_year = 0.02\n"))
