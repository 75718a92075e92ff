"""Directed studies of the design flood: complaints 2 to 6, 8 and 12 to 14."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import special, stats

from referee import drawing, exact, floods, tails
from referee.bare_sites import BLOCKAGE, Bars, Directed, normal_flow, pond, run_and_decision
from referee.case import Case
from referee.design_flood import DesignFlood
from referee.directed_years import GUMBEL, OF_A_YEAR
from referee.families import Array
from referee.figures import Figure, none
from referee.figures import exact as sure
from referee.reading import DESIGN, TAILS
from referee.site_adapter import SiteFunction

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


# --- 5: parameters that are not known


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


# --- 12: what drives the event --------------------------------------------------------------------------------------


def event_of_two() -> Directed:
    """Flow and shift go together; which of them drives the event has a closed form but for one integral."""
    pair = '\n[[dependence]]\nbetween = ["flow.design_m3_s", "tailwater.rating_shift_m"]\nrank_correlation = 0.6\n'
    case = pond("an event of two", normal_flow(5.0, 0.5), "10.65", "{ normal = { mean = 0.0, sd = 0.1 } }", pair)
    first, second = exact.event_shapley(2.0 * np.sin(np.pi * 0.6 / 6.0), (0.05, 0.1), 0.15)
    found = {"event shapley flow.design_m3_s": sure(first), "event shapley tailwater.rating_shift_m": sure(second)}
    return Directed(12, case, lambda _case, _site: found)


# --- 13: what is rare


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
        f'title = "A reach (invented)"\n\n{run_and_decision(4096, 0.1, 0.9)}[flow]\ndesign_m3_s = 6.0\n\n[tailwater]\n'
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

        def over(n: Array) -> NDArray[np.bool_]:
            return np.asarray(site.level({"reach.manning_n": n, "reach.bank_level_m": banks}, n.size) > banks)

        rough = exact.least(over, 0.005, 0.5, banks.shape)
        score = np.log(rough / 0.05) / np.sqrt(np.log1p(0.01))
        return {"overtopping": sure(float(weight @ special.ndtr(-score)))}

    return Directed(13, Case("ruled by roughness", text, {}), truth)


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
    """Flow and shift go together in their far ends; how the study says so stands in `reading.TAILS`."""
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
