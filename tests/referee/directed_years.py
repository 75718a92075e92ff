"""Directed studies of the floods of a year: complaints 1, 5, 7, 10 and 11."""

from __future__ import annotations

import numpy as np
from scipy import special

from referee import exact, floods
from referee.bare_sites import BLOCKAGE, Bars, Directed, pond, tide
from referee.case import Case
from referee.design_flood import DesignFlood
from referee.families import Array
from referee.figures import Figure
from referee.figures import exact as sure
from referee.parts import visits_of
from referee.site_adapter import SiteFunction
from referee.years import Years

GUMBEL = {"location": 3.0, "scale": 0.6}
OF_A_YEAR = (
    "design_annual_probability = 0.01\nannual = { gumbel = { location = 3.0, scale = 0.6 } }\ndesign_life_years = 50"
)
BAND = (0.05, 0.5, 0.95)


def above_gumbel(flow: Array | float) -> Array:
    """P(Q >= flow) in a year."""
    return np.asarray(-np.expm1(-np.exp(-(np.asarray(flow) - GUMBEL["location"]) / GUMBEL["scale"])))


def all_known(yearly: float, years: int) -> dict[str, Figure]:
    """Where nothing is unknown the band has no width, and years are independent."""
    found = {f"in a year, {share:g}": sure(yearly) for share in BAND}
    return found | {"in a year": sure(yearly), "over the life": sure(-np.expm1(years * np.log1p(-yearly)))}


# --- 1: the band of what is not known ----------------------------------------------------------------------------


def shut_now_and_then(samples: int) -> Directed:
    """Nothing is unknown; a screen shuts in one flood in twenty, and then no water passes."""
    blockage = "{ discrete = { values = [0.0, 1.0], weights = [0.95, 0.05] } }"
    bars = Bars("shut one time in twenty", OF_A_YEAR, blockage, 31.95, road=False, overflow=False, samples=samples)

    def truth(_case: Case, site: SiteFunction) -> dict[str, Figure]:
        clean = float(above_gumbel(exact.capacity(site, bars.bank, BLOCKAGE, np.zeros(1)))[0])
        return all_known(0.05 + 0.95 * clean, 50)

    return Directed(1, bars.case(), truth)


def debris_anew(samples: int) -> Directed:
    """Nothing is unknown; a blockage with lumps at both ends comes out anew in each flood."""
    blockage = "{ inflated_beta = { at_zero = 0.3, a = 1.2, b = 3.0, at_one = 0.03 } }"
    bars = Bars("debris anew in each flood", OF_A_YEAR, blockage, 32.2, samples=samples)

    def truth(case: Case, site: SiteFunction) -> dict[str, Figure]:
        number = case.reading.number(BLOCKAGE)
        return all_known(1.0 - exact.not_above(site, bars.bank, number, lambda flow: 1.0 - above_gumbel(flow)), 50)

    return Directed(1, bars.case(), truth)


def known_and_anew(samples: int) -> Directed:
    """A coefficient is unknown and the debris comes out anew: a sum over the one in an integral over the other.

    The probability of a state rises with its coefficient, so that its quantiles are those at the coefficient's own.
    """
    blockage = "{ inflated_beta = { at_zero = 0.3, a = 1.2, b = 3.0, at_one = 0.03 } }"
    head = "{ normal = { mean = 1.0, sd = 0.12 } }"
    bars = Bars("a coefficient and debris anew", OF_A_YEAR, blockage, 32.0, samples=samples, head_factor=head)

    def truth(case: Case, site: SiteFunction) -> dict[str, Figure]:
        points, weights = np.polynomial.hermite_e.hermegauss(24)
        score = np.concatenate([points, special.ndtri(BAND)])
        shares, weight = exact.shares_of(case.reading.number(BLOCKAGE))
        every = np.repeat(1.0 + 0.12 * score, shares.size)
        capacity = exact.capacity_of(
            site, bars.bank, {"lane.inlet.head_factor": every, BLOCKAGE: np.tile(shares, score.size)}
        )
        yearly = above_gumbel(capacity).reshape(score.size, -1) @ weight
        states, chance = yearly[: points.size], weights / weights.sum()
        found = {f"in a year, {share:g}": sure(float(p)) for share, p in zip(BAND, yearly[points.size :], strict=True)}
        life = float(chance @ -np.expm1(50 * np.log1p(-states)))
        return found | {"in a year": sure(float(chance @ states)), "over the life": sure(life)}

    return Directed(1, bars.case(), truth)


# --- 2: what goes with the floods of a year -----------------------------------------------------------------------


def lumps_with_the_flood(rank_correlation: float) -> Directed:
    """A blockage with lumps goes with the flood of a year, within its lumps too: an integral over its score."""
    pair = f'\n[[dependence]]\nbetween = ["flow.annual", "{BLOCKAGE}"]\nrank_correlation = {rank_correlation}\n'
    blockage = "{ inflated_beta = { at_zero = 0.26, a = 2.2, b = 2.9, at_one = 0.11 } }"
    bars = Bars(f"lumps with the flood {rank_correlation}", OF_A_YEAR, blockage, 31.2, more=pair)

    def truth(case: Case, site: SiteFunction) -> dict[str, Figure]:
        r, number = 2.0 * np.sin(np.pi * rank_correlation / 6.0), case.reading.number(BLOCKAGE)
        score = np.linspace(-8.0, 8.0, 2001)
        shares, place = np.unique(number.values(score, number.given), return_inverse=True)
        capacity = exact.capacity(site, bars.bank, BLOCKAGE, shares)[place]
        above = special.ndtr((r * score + special.ndtri(above_gumbel(capacity))) / np.sqrt(1.0 - r * r))
        density = np.exp(-0.5 * score**2)
        return all_known(float(density @ above / density.sum()), 50)

    return Directed(2, bars.case(), truth)


# --- 5: records, and parameters that are not known ------------------------------------------------------------------


def all_shut(looks: int) -> Directed:
    """Every look found the bars shut. The chance of that is beta(0.25 + looks, 4.75), prior and data alike."""
    prior = "screen, medium debris, routine raking"
    blockage = f'{{ records = {{ assets = "assets.csv", visits = "visits.csv", asset = "lane", prior = "{prior}" }} }}'
    bars = Bars(f"{looks} looks, all shut", OF_A_YEAR, blockage, 34.0, road=False, overflow=False)

    def truth(case: Case, site: SiteFunction) -> dict[str, Figure]:
        years = Years(case.reading, site, states=2000, points=4, seed=1)
        flood = DesignFlood.of(case.reading, site, 100_000, 1)
        found = {f"in a year, {share:g}": years.band(share) for share in BAND}
        return found | {
            "overtopping": flood.overtopping(),
            "in a year": years.probability(),
            "over the life": years.over_life(50),
        }

    return Directed(5, bars.case(visits_of([100] * looks)), truth)


# --- 7: what is rare -----------------------------------------------------------------------------------------


def rare_in_a_year() -> Directed:
    """p = exp(-(10 (B - 10) - location)/scale + (10 sd/scale)^2/2) for a bank that is normal with mean B and sd."""
    flow = OF_A_YEAR.replace("design_life_years = 50", "design_life_years = 100")
    case = pond("rare in a year", flow, "{ normal = { mean = 11.55, sd = 0.05 } }", "0.0")
    yearly = float(np.exp(-(15.5 - 3.0) / 0.6 + 0.5 * (0.5 / 0.6) ** 2))
    found = {"in a year": sure(yearly), "over the life": sure(100.0 * yearly)}
    found |= {f"over {years} years": sure(years * yearly) for years in (10, 30, 50)}
    return Directed(7, case, lambda _case, _site: found)


# --- 10: a tide ------------------------------------------------------------------------------------------------------


def tide_in_each_flood(kind: str) -> Directed:
    """The tide alone goes over. Anew in each flood, also where nothing is said: 1 - (1 - p)^50; as knowledge: p."""
    said = f', kind = "{kind}"' if kind else ""
    case = tide(f"tide, kind {kind or 'left out'}", f"{{ normal = {{ mean = 2.0, sd = 0.1 }}{said} }}", 2.281, 50)
    yearly = float(special.ndtr(-2.81))
    life = yearly if kind == "knowledge" else -np.expm1(50 * np.log1p(-yearly))
    return Directed(10, case, lambda _case, _site: {"in a year": sure(yearly), "over the life": sure(float(life))})


# --- 11: a record and distributions that could not have made it -----------------------------------------------------

RECORD = (2.1, 3.0, 3.4, 3.9, 4.1, 4.4, 4.5, 4.8, 4.9, 5.0, 5.2, 5.3, 5.4, 5.5, 5.6, 5.7, 5.8, 5.9, 6.0, 6.1)
"""Twenty annual maxima that crowd under a limit [m3/s], invented."""


def crowded_record() -> Directed:
    """Alternatives whose upper bound lies below the largest flood on record have no weight."""
    flow = 'design_annual_probability = 0.01\nannual_maxima = "maxima.csv"\nfit = { family = "gev" }'
    maxima = "flow_m3_s\n" + "".join(f"{each}\n" for each in RECORD)
    case = pond(
        "a crowded record", flow, "10.60", "{ normal = { mean = 0.0, sd = 0.001 } }", "", {"maxima.csv": maxima}
    )

    def truth(_case: Case, _site: SiteFunction) -> dict[str, Figure]:
        location, scale, shape = (float(each[0]) for each in floods.fitted("gev", np.array([RECORD])))
        best, rng = {"location": location, "scale": scale, "shape": shape}, np.random.default_rng(1)
        found = floods.alternatives("gev", best, len(RECORD), rng, 100_000)
        with np.errstate(divide="ignore"):
            bound = np.where(found["shape"] > 0.0, found["location"] + found["scale"] / found["shape"], np.inf)
        possible = {key: each[bound >= max(RECORD)] for key, each in found.items()}
        inner = 1.0 - possible["shape"] * (6.0 - possible["location"]) / possible["scale"]
        chance = -np.expm1(-(np.maximum(inner, 0.0) ** (1.0 / possible["shape"])))
        error = float(np.std(chance)) / np.sqrt(chance.size)
        return {"in a year": Figure(float(np.mean(chance)), error, error)}

    return Directed(11, case, truth)
