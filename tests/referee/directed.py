"""One study for each way in which a headline figure was once wrong, with what is right: most by a closed form.

All sites are invented. Three bare sites: a *pond*, whose level is that of a rating, 10 + flow/10 (+ a shift); a *tide*,
whose level is the tailwater's, whatever flows; and a *screen* before a box culvert, of which little is uncertain.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import special, stats

from referee import drawing, exact, floods, tails
from referee.design_flood import DesignFlood
from referee.families import Array
from referee.figures import Figure, none
from referee.figures import exact as sure
from referee.generator import Case, visits_of
from referee.reading import DESIGN
from referee.site_adapter import SiteFunction
from referee.years import Years

BLOCKAGE = "lane.screen.blockage"

Truth = Callable[[Case, SiteFunction], dict[str, Figure]]


@dataclass(frozen=True)
class Directed:
    """A study and the figures that are right for it; `item` is the number of the complaint that it answers."""

    item: int
    case: Case
    truth: Truth


def _run(samples: int, target: float, assurance: float) -> str:
    return (
        f"[run]\nsamples = {samples}\nreplicates = 16\nseed = 3\n\n"
        f"[decision]\ntarget_probability = {target}\nassurance = {assurance}\n\n"
    )


def pond(name: str, flow: str, bank: str, shift: str, more: str = "", files: dict[str, str] | None = None) -> Case:
    """Level 10 + flow/10 + shift."""
    text = (
        f'title = "A pond: {name} (invented)"\n\n{_run(4096, 0.1, 0.9)}[flow]\n{flow}\n\n'
        f'[tailwater]\nrating = "rating.csv"\nrating_shift_m = {shift}\n\n[[element]]\nkind = "channel"\nid = "pond"\n'
        'section = { shape = "rectangle", width_m = 400.0 }\nlength_m = 0.1\nbed_level_m = 0.0\nbed_slope = 0.0001\n'
        f"manning_n = 0.02\nbank_level_m = {bank}\n{more}"
    )
    rating = {"rating.csv": "flow_m3_s,level_m\n0.001,10.0001\n400.0,50.0\n"}
    return Case(name, text, rating | (files or {}))


def tide(name: str, level: str, bank: float, years: int) -> Case:
    """The level is that of the tailwater in every flood."""
    text = (
        f'title = "A tide: {name} (invented)"\n\n{_run(4096, 0.1, 0.9)}[flow]\ndesign_annual_probability = 0.01\n'
        f"annual = {{ gumbel = {{ location = 1.0, scale = 0.2 }} }}\ndesign_life_years = {years}\n\n"
        f'[tailwater]\nlevel_m = {level}\n\n[[element]]\nkind = "channel"\nid = "quay"\n'
        'section = { shape = "rectangle", width_m = 400.0 }\nlength_m = 0.1\nbed_level_m = 0.0\nbed_slope = 0.0001\n'
        f"manning_n = 0.02\nbank_level_m = {bank}\n"
    )
    return Case(name, text, {})


@dataclass(frozen=True)
class Bars:
    """A screen before a box culvert."""

    name: str
    flow: str
    blockage: str
    bank: float
    road: bool = True
    overflow: bool = True
    samples: int = 4096
    target: float = 0.1
    assurance: float = 0.9
    head_factor: str = "1.0"
    more: str = ""

    def case(self, files: dict[str, str] | None = None) -> Case:
        """The study."""
        road = "\n[element.road]\nlevel_m = 32.4\nlength_m = 14.0\n" if self.road else ""
        text = (
            f'title = "A screen: {self.name} (invented)"\n\n{_run(self.samples, self.target, self.assurance)}[flow]\n'
            f'{self.flow}\n\n[tailwater]\nlevel_m = 30.8\n\n[[element]]\nkind = "culvert"\nid = "lane"\n'
            f'bank_level_m = {self.bank}\nbarrel = {{ shape = "box", span_m = 2.2, rise_m = 1.5, length_m = 12.0, '
            "upstream_invert_m = 30.10, downstream_invert_m = 30.00, manning_n = 0.014 }\n"
            f'inlet = {{ edge = "wingwalls 30 to 75 deg", head_factor = {self.head_factor} }}\n\n[element.screen]\n'
            "width_m = 3.0\nheight_m = 1.9\nbar_m = 0.02\ngap_m = 0.125\n"
            f"overflow = {str(self.overflow).lower()}\nblockage = {self.blockage}\n{road}{self.more}"
        )
        return Case(self.name, text, files or {})


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


# --- 2: the design flood and what goes with the floods of a year --------------------------------------------------


def debris_with_the_flood() -> Directed:
    """In the 1 % flood the debris is that of a flood as rare: its score is normal with mean r 2.326 and spread s."""
    pair = f'\n[[dependence]]\nbetween = ["flow.annual", "{BLOCKAGE}"]\nrank_correlation = 0.5\n'
    bars = Bars("debris with the flood", OF_A_YEAR, "{ beta = { a = 1.5, b = 2.5 } }", 32.0, more=pair)

    def truth(case: Case, site: SiteFunction) -> dict[str, Figure]:
        number, r, rare = case.reading.number(BLOCKAGE), 2.0 * np.sin(np.pi * 0.5 / 6.0), special.ndtri(0.99)
        flow = float(floods.flow("gumbel", GUMBEL, np.array(rare)))
        middle, spread = r * rare, np.sqrt(1.0 - r * r)
        least = special.ndtri(special.betainc(1.5, 2.5, exact.critical(site, bars.bank, BLOCKAGE, flow)))
        share = float(number.values(np.array(middle + spread * special.ndtri(bars.assurance)), number.given))
        level = float(site.level({DESIGN: flow, BLOCKAGE: share}, 1)[0])
        over = sure(float(special.ndtr((middle - least) / spread)))
        return {"overtopping": over, "level 0.9": sure(level), "allowance": sure(share)}

    return Directed(2, bars.case(), truth)


# --- 3: blockage set beyond what is assumed of it ------------------------------------------------------------------


def normal_flow(mean: float, sd: float) -> str:
    """A design flow."""
    return f"design_m3_s = {{ normal = {{ mean = {mean}, sd = {sd} }} }}"


def between_two_shares(name: str, flow: tuple[float, float], bank: float, target: float, assurance: float) -> Directed:
    """The blockage is known to lie between 0.4 and 0.7, the flow is lognormal; what is asked lies beyond."""
    blockage = "{ uniform = { low = 0.4, high = 0.7 } }"
    median, cov = flow
    said = f"design_m3_s = {{ lognormal = {{ median = {median}, cov = {cov} }} }}"
    bars, spread = Bars(name, said, blockage, bank, target=target, assurance=assurance), np.sqrt(np.log1p(cov**2))

    def below(q: Array) -> Array:
        return np.asarray(special.ndtr(np.log(q / median) / spread))

    def truth(case: Case, site: SiteFunction) -> dict[str, Figure]:
        number, shares = case.reading.number(BLOCKAGE), np.array([0.0, 0.25, 0.5, 0.75, 1.0])
        over = 1.0 - below(exact.capacity(site, bank, BLOCKAGE, shares))
        found = {f"blockage set to {share:g}": sure(float(p)) for share, p in zip(shares, over, strict=True)}
        least = exact.critical(site, bank, BLOCKAGE, median * np.exp(-spread * float(special.ndtri(target))))
        largest = none() if over[0] > target else sure(min(least, 1.0))
        level = exact.level_quantile(site, assurance, number, below, (30.0, 36.0))
        found |= {"largest blockage": largest, f"level {assurance:g}": sure(level)}
        found["overtopping"] = sure(1.0 - exact.not_above(site, bank, number, below))
        return found | {"allowance": DesignFlood.of(case.reading, site, 10, 1).allowance(BLOCKAGE, sure(level))}

    return Directed(3, bars.case(), truth)


# --- 4: no way through ----------------------------------------------------------------------------------------------


def no_way_through() -> Directed:
    """Shut bars let nothing by, so that one flood in twenty stands endlessly high; the other levels are finite."""
    blockage = "{ inflated_beta = { at_zero = 0.2, a = 1.5, b = 2.5, at_one = 0.05 } }"
    bars = Bars("no way through", normal_flow(4.0, 0.6), blockage, 31.8, road=False, overflow=False)

    def below(q: Array) -> Array:
        return np.asarray(special.ndtr((q - 4.0) / 0.6))

    def truth(case: Case, site: SiteFunction) -> dict[str, Figure]:
        number = case.reading.number(BLOCKAGE)
        found = {
            f"level {share:g}": sure(exact.level_quantile(site, share, number, below, (30.0, 60.0)))
            for share in (0.5, 0.8, 0.9)
        }
        level = found["level 0.9"]
        found["overtopping"] = sure(1.0 - exact.not_above(site, bars.bank, number, below))
        return found | {"allowance": DesignFlood.of(case.reading, site, 10, 1).allowance(BLOCKAGE, level)}

    return Directed(4, bars.case(), truth)


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


def unknown_mean() -> Directed:
    """The mean of the design flow is normal itself: the level is normal with the variances added."""
    flow = "design_m3_s = { normal = { mean = { normal = { mean = 5.0, sd = 0.4 } }, sd = 0.5 } }"
    case = pond("a mean that is not known", flow, "10.6", "{ normal = { mean = 0.0, sd = 0.05 } }")
    sd = np.sqrt(0.04**2 + 0.05**2 + 0.05**2)
    over = sure(float(special.ndtr(-0.1 / sd)))
    return Directed(
        5, case, lambda _case, _site: {"overtopping": over, "level 0.9": sure(10.5 + sd * float(special.ndtri(0.9)))}
    )


# --- 6: what is learnt of numbers that go together ------------------------------------------------------------------


def seen_with_dependence() -> Directed:
    """A coefficient goes with the blockage; the flood seen had a blockage that went with the same coefficient."""
    more = (
        f'\n[[dependence]]\nbetween = ["lane.inlet.head_factor", "{BLOCKAGE}"]\nrank_correlation = 0.85\n'
        "\n[[observation]]\nflow_m3_s = { normal = { mean = 4.0, sd = 0.05 } }\nlevel_m = 31.60\nsd_m = 0.03\n"
    )
    bars = Bars(
        "seen with dependence", normal_flow(4.4, 0.3), "{ beta = { a = 3.0, b = 4.0 } }", 31.75, more=more,
        head_factor="{ normal = { mean = 1.0, sd = 0.08 } }", samples=8192,
    )  # fmt: skip

    def truth(case: Case, site: SiteFunction) -> dict[str, Figure]:
        flood = DesignFlood.of(case.reading, site, 200_000, 1)
        level = flood.learnt_level(bars.assurance)
        return {
            "overtopping learnt": flood.learnt_overtopping(),
            "level learnt": level,
            "allowance learnt": flood.allowance(BLOCKAGE, level),
            "learnt sd of lane.inlet.head_factor": flood.learnt_sd("lane.inlet.head_factor"),
        }

    return Directed(6, bars.case(), truth)


# --- 7 and 13: what is rare -----------------------------------------------------------------------------------------


def rare_in_a_year() -> Directed:
    """p = exp(-(10 (B - 10) - location)/scale + (10 sd/scale)^2/2) for a bank that is normal with mean B and sd."""
    flow = OF_A_YEAR.replace("design_life_years = 50", "design_life_years = 100")
    case = pond("rare in a year", flow, "{ normal = { mean = 11.55, sd = 0.05 } }", "0.0")
    yearly = float(np.exp(-(15.5 - 3.0) / 0.6 + 0.5 * (0.5 / 0.6) ** 2))
    found = {"in a year": sure(yearly), "over the life": sure(100.0 * yearly)}
    return Directed(7, case, lambda _case, _site: found)


def ruled_by_the_bank() -> Directed:
    """Bank and shift are normal and the flow is certain: P = Phi(-(B - level)/sd), five standard deviations out."""
    case = pond(
        "ruled by the bank", "design_m3_s = 5.0", "{ normal = { mean = 11.0, sd = 0.08 } }",
        "{ normal = { mean = 0.0, sd = 0.06 } }",
    )  # fmt: skip
    return Directed(13, case, lambda _case, _site: {"overtopping": sure(float(special.ndtr(-5.0)))})


def ruled_by_roughness() -> Directed:
    """A reach whose roughness alone carries the event: P(n > n*), with n* found by halving."""
    text = (
        f'title = "A reach (invented)"\n\n{_run(4096, 0.1, 0.9)}[flow]\ndesign_m3_s = 6.0\n\n[tailwater]\n'
        'level_m = { value = 21.0 }\n\n[[element]]\nkind = "channel"\nid = "reach"\n'
        'section = { shape = "trapezoid", bed_width_m = 3.0, side_slope = 1.5 }\nlength_m = 120.0\nbed_level_m = 20.0\n'
        "bed_slope = 0.002\nmanning_n = { lognormal = { median = 0.05, cov = 0.1 } }\n"
        "bank_level_m = { normal = { mean = 21.80, sd = 0.02 } }\n"
    )

    def truth(_case: Case, site: SiteFunction) -> dict[str, Figure]:
        # P = int P(n > n*(bank)) over the bank, Gauss-Legendre in its score
        nodes, weights = np.polynomial.legendre.leggauss(200)
        z, weight = 8.0 * nodes, 8.0 * weights * stats.norm.pdf(8.0 * nodes)
        banks = 21.80 + 0.02 * z

        def over(n: Array) -> Array:
            return np.asarray(site.level({"reach.manning_n": n, "reach.bank_level_m": banks}, n.size) > banks)

        rough = exact.least(over, 0.005, 0.5, banks.shape)
        score = np.log(rough / 0.05) / np.sqrt(np.log1p(0.01))
        return {"overtopping": sure(float(weight @ special.ndtr(-score)))}

    return Directed(13, Case("ruled by roughness", text, {}), truth)


# --- 8: levels that take a few values -------------------------------------------------------------------------------


def few_levels() -> Directed:
    """Flow and blockage take three values each, independently: nine levels with known chances."""
    flow = "design_m3_s = { discrete = { values = [3.0, 4.0, 5.5], weights = [0.5, 0.3, 0.2] } }"
    blockage = "{ discrete = { values = [0.0, 0.5, 0.7], weights = [0.5, 0.37, 0.13] } }"
    bars = Bars("few levels", flow, blockage, 32.0)

    def truth(_case: Case, site: SiteFunction) -> dict[str, Figure]:
        numbers = {
            DESIGN: (np.array([3.0, 4.0, 5.5]), np.array([0.5, 0.3, 0.2])),
            BLOCKAGE: (np.array([0.0, 0.5, 0.7]), np.array([0.5, 0.37, 0.13])),
        }
        levels, chances = exact.enumerated(numbers, lambda table: site.level(table, 9))
        order = np.argsort(levels)
        heights = np.cumsum(chances[order])
        found = {
            f"level {share:g}": sure(float(levels[order][np.searchsorted(heights, share)]))
            for share in (0.5, 0.8, 0.9, 0.95, 0.99)
        }
        return found | {"overtopping": sure(float(chances @ (levels > bars.bank)))}

    return Directed(8, bars.case(), truth)


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
    flow = 'design_annual_probability = 0.01\nannual_maxima = "maxima.csv"\nfit = { family = "gev" }\ndesign_life_years = 50'
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


# --- 12: what drives the event --------------------------------------------------------------------------------------


def event_of_two() -> Directed:
    """Flow and shift go together; which of them drives the event has a closed form but for one integral."""
    pair = '\n[[dependence]]\nbetween = ["flow.design_m3_s", "tailwater.rating_shift_m"]\nrank_correlation = 0.6\n'
    case = pond("an event of two", normal_flow(5.0, 0.5), "10.65", "{ normal = { mean = 0.0, sd = 0.1 } }", pair)
    first, second = exact.event_shapley(2.0 * np.sin(np.pi * 0.6 / 6.0), (0.05, 0.1), 0.15)
    found = {"event shapley flow.design_m3_s": sure(first), "event shapley tailwater.rating_shift_m": sure(second)}
    return Directed(12, case, lambda _case, _site: found)


# --- 14: dependence with tails, and a partial set of correlations ---------------------------------------------------


def partial_correlations() -> Directed:
    """Flow goes with the shift and with the bank; the third pair follows, r23 = r12 r13, which no 0 could be."""
    pairs = "".join(
        f'\n[[dependence]]\nbetween = ["flow.design_m3_s", "{other}"]\nrank_correlation = 0.8\n'
        for other in ("tailwater.rating_shift_m", "pond.bank_level_m")
    )
    case = pond(
        "a partial set of correlations", normal_flow(5.0, 0.5), "{ normal = { mean = 10.6, sd = 0.08 } }",
        "{ normal = { mean = 0.0, sd = 0.1 } }", pairs,
    )  # fmt: skip
    r = 2.0 * np.sin(np.pi * 0.8 / 6.0)
    slopes = np.array([0.05, 0.1, -0.08])
    matrix = np.array([[1.0, r, r], [r, 1.0, r * r], [r, r * r, 1.0]])
    over = float(special.ndtr(-0.1 / np.sqrt(slopes @ matrix @ slopes)))
    return Directed(14, case, lambda _case, _site: {"overtopping": sure(over)})


def with_tails(word: str) -> Directed:
    """Flow and shift go together in their far ends; how the study says so stands in one place, `TAILS`."""
    pair = (
        '\n[[dependence]]\nbetween = ["flow.design_m3_s", "tailwater.rating_shift_m"]\nrank_correlation = 0.5\n'
        f'{TAILS} = "{word}"\n'
    )
    case = pond(f"tails, {word}", normal_flow(5.0, 0.5), "10.9", "{ normal = { mean = 0.0, sd = 0.1 } }", pair)

    def truth(case: Case, _site: SiteFunction) -> dict[str, Figure]:
        together, score = drawing.dependence(case.reading), np.linspace(-8.0, 8.0, 4001)
        # P(0.1 Q + s > 10.9) = int P(s > 0.9 - 0.1 Q | Q) over the flow
        needed = (0.4 - 0.05 * score) / 0.1
        pair = together.tailed[0]
        given = tails.above(pair.tails, pair.rank_correlation, score, needed)
        density = np.exp(-0.5 * score**2)
        return {"overtopping": sure(float(density @ given / density.sum()))}

    return Directed(14, case, truth)


TAILS = "tails"
"""Key of a dependence that says how it goes on in the far ends."""

ALL: tuple[Directed, ...] = (
    *(shut_now_and_then(2048), shut_now_and_then(16384), debris_anew(2048), debris_anew(16384)),
    debris_with_the_flood(),
    between_two_shares("largest below what is assumed", (4.2, 0.1), 31.45, 0.2, 0.9),
    between_two_shares("even clean exceeds the target", (4.6, 0.13), 31.35, 0.1, 0.95),
    between_two_shares("no blockage gives the level", (4.2, 0.5), 33.0, 0.2, 0.99),
    no_way_through(),
    *(all_shut(looks) for looks in (1, 19, 20)),
    unknown_mean(),
    seen_with_dependence(),
    rare_in_a_year(),
    few_levels(),
    *(tide_in_each_flood(kind) for kind in ("", "knowledge", "each flood")),
    crowded_record(),
    event_of_two(),
    *(ruled_by_the_bank(), ruled_by_roughness()),
    partial_correlations(),
    *(with_tails(word) for word in ("survival_clayton", "gumbel", "t")),
)
"""All of them; complaints 9 and 15 have tests of their own, for no figure shows them."""

MOST_SPREAD = 0.3
"""A rare probability is told when the half width of its interval is no more than this share of it."""
