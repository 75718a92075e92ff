"""Parts of random studies, each a piece of text. All sites are invented."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from referee.reading import TAILS

BANK = "BANK"
"""Stands in the text until the bank has a level."""

WORDS = ("", "survival_clayton", "gumbel", "t")
"""Words of dependences that random studies draw from; empty is the Gaussian one, which alone may be negative."""


@dataclass
class Draft:
    """A study while it is written; every part may be replaced by the kind of the study."""

    rng: np.random.Generator
    samples: int
    title: str = ""
    flow: str = ""
    tailwater: str = ""
    elements: list[str] = field(default_factory=list)
    dependences: list[tuple[str, str, float, str]] = field(default_factory=list)
    observations: list[str] = field(default_factory=list)
    files: dict[str, str] = field(default_factory=dict)
    depth: tuple[float, float] = (0.1, 0.8)
    depth_over_bank: float = 0.0

    def pick(self, low: float, high: float, digits: int = 3) -> float:
        """A random number, rounded so that the study is readable."""
        return round(float(self.rng.uniform(low, high)), digits)

    def one_of(self, *choices: str) -> str:
        """One of them."""
        return choices[int(self.rng.integers(len(choices)))]

    def depend(self, first: str, second: str) -> None:
        """A dependence of either sign."""
        against = self.rng.random() < 0.4
        rank, word = self.pick(0.2, 0.7, 2), self.one_of(*WORDS)
        word = "" if against else word
        tails = f'{TAILS} = "{word}"\n' if word else ""
        self.dependences.append((first, second, -rank if against else rank, tails))

    def text(self, bank: str) -> str:
        """The study with this bank level."""
        target, assurance = self.one_target
        head = (
            f'title = "{self.title} (invented)"\n\n[run]\nsamples = {self.samples}\nreplicates = 16\nseed = 7\n\n'
            f"[decision]\ntarget_probability = {target}\nassurance = {assurance}\nat = 'lane'\n\n"
            f"[flow]\n{self.flow}\n\n[tailwater]\n{self.tailwater}\n\n"
        )
        pairs = "".join(
            f'\n[[dependence]]\nbetween = ["{a}", "{b}"]\nrank_correlation = {rho}\n{word}'
            for a, b, rho, word in self.dependences
        )
        return head + "\n".join(self.elements).replace(BANK, bank) + pairs + "".join(self.observations)

    @property
    def one_target(self) -> tuple[float, float]:
        """Target and assurance, the same whenever they are asked for."""
        rng = np.random.default_rng([*map(ord, self.title)])
        return float(rng.choice([0.01, 0.05, 0.1, 0.2, 0.4])), float(rng.choice([0.8, 0.9, 0.95]))


def design_flow(draft: Draft) -> str:
    """An uncertain design flow."""
    median = draft.pick(4.0, 7.0, 2)
    return "design_m3_s = " + draft.one_of(
        f"{{ lognormal = {{ median = {median}, cov = {draft.pick(0.1, 0.3, 2)} }} }}",
        f"{{ normal = {{ mean = {median}, sd = {round(0.12 * median, 2)}, low = {round(0.4 * median, 2)} }} }}",
        f"{{ triangular = {{ low = {round(0.6 * median, 2)}, mode = {median}, high = {round(1.7 * median, 2)} }} }}",
    )


def annual_flow(draft: Draft, record: bool = False) -> str:
    """Annual maxima, and the design flood taken from them."""
    at, by = draft.pick(2.4, 3.4, 2), draft.pick(0.5, 0.9, 2)
    bend, less = draft.pick(-0.15, 0.1, 2), draft.pick(-0.2, -0.02, 2)
    mean, skew = draft.pick(0.42, 0.52, 3), draft.pick(-0.3, 0.5, 2)
    families = [
        f"gumbel = {{ location = {at}, scale = {by} }}",
        f"gev = {{ location = {at}, scale = {by}, shape = {bend} }}",
        f"generalised_logistic = {{ location = {at}, scale = {round(0.7 * by, 2)}, shape = {less} }}",
        f"log_pearson3 = {{ mean_log10 = {mean}, sd_log10 = 0.12, skew_log10 = {skew} }}",
    ]
    family = draft.one_of(*(families[:2] if record else families))
    years = f", equivalent_years = {int(draft.rng.integers(25, 90))}" if record else ""
    probability = draft.one_of("0.01", "0.02", "0.005")
    life = int(draft.rng.integers(20, 80))
    return f"design_annual_probability = {probability}\nannual = {{ {family}{years} }}\ndesign_life_years = {life}"


def level_below(draft: Draft, kind: str | None = None) -> str:
    """A tailwater: a level of some kind, a rating with a shift, or a normal depth."""
    said = "" if kind is None else f', kind = "{kind}"'
    level = f"level_m = {{ normal = {{ mean = {draft.pick(30.6, 31.1, 2)}, sd = {draft.pick(0.05, 0.2, 2)} }}{said} }}"
    if kind is not None:
        return level
    draft.files["rating.csv"] = "flow_m3_s,level_m\n0.1,30.20\n3.0,30.70\n8.0,31.20\n30.0,32.20\n"
    slope, rough = draft.pick(0.002, 0.005, 4), draft.pick(0.035, 0.055, 3)
    depth = (
        '[tailwater.normal_depth]\nsection = { shape = "trapezoid", bed_width_m = 2.6, side_slope = 1.5 }\n'
        f"bed_level_m = 29.9\nslope = {slope}\nmanning_n = {{ lognormal = {{ median = {rough}, cov = 0.2 }} }}"
    )
    shift = f'rating = "rating.csv"\nrating_shift_m = {{ normal = {{ mean = 0.0, sd = {draft.pick(0.05, 0.15, 2)} }} }}'
    return draft.one_of(shift, depth)


def bank(draft: Draft) -> str:
    """An uncertain bank level, or a certain one."""
    return draft.one_of(
        f"bank_level_m = {{ normal = {{ mean = {BANK}, sd = 0.05 }} }}",
        f"bank_level_m = {{ normal = {{ mean = {BANK}, sd = 0.12 }} }}",
        f"bank_level_m = {BANK}",
    )


def lumpy(draft: Draft) -> str:
    """A blockage with lumps at its ends."""
    a, b = draft.pick(0.8, 2.5, 1), draft.pick(1.2, 4.0, 1)
    zero, one = draft.pick(0.1, 0.5, 2), draft.pick(0.01, 0.12, 2)
    return f"{{ inflated_beta = {{ at_zero = {zero}, a = {a}, b = {b}, at_one = {one} }} }}"


def screen(draft: Draft, blockage: str, overflow: bool = True) -> str:
    """Bars before the inlet."""
    width = draft.pick(2.6, 3.6, 1)
    over = "true" if overflow else "false"
    return (
        f"[element.screen]\nwidth_m = {width}\nheight_m = 1.9\nbar_m = 0.02\ngap_m = 0.125\noverflow = {over}\n"
        f"blockage = {blockage}\n"
    )


ROAD = "[element.road]\nlevel_m = 32.4\nlength_m = 14.0\ncoefficient = { uniform = { low = 1.4, high = 1.7 } }\n"


def culvert(draft: Draft, *, road: bool, more: str = "", own: str = "") -> str:
    """A box culvert; `own` are keys of its own, `more` its screen."""
    span, rise = draft.pick(2.0, 2.6, 1), draft.pick(1.4, 1.7, 1)
    rough = draft.one_of("0.014", "{ triangular = { low = 0.012, mode = 0.014, high = 0.02 } }")
    return (
        f'[[element]]\nkind = "culvert"\nid = "lane"\n{bank(draft)}\n{own}'
        f'barrel = {{ shape = "box", span_m = {span}, rise_m = {rise}, length_m = 12.0, upstream_invert_m = 30.10, '
        f"downstream_invert_m = 30.00, manning_n = {rough} }}\n"
        'inlet = { edge = "wingwalls 30 to 75 deg", head_factor = { normal = { mean = 1.0, sd = 0.05 } } }\n'
        f"{more}{ROAD if road else ''}"
    )


def weir(draft: Draft) -> str:
    """A weir with a coefficient that is given."""
    crest = draft.pick(30.9, 31.2, 2)
    return (
        f'[[element]]\nkind = "weir"\nid = "lane"\n{bank(draft)}\n'
        'approach = { section = { shape = "rectangle", width_m = 5.0 }, bed_level_m = 30.05 }\n'
        f'crest = {{ kind = "given", level_m = {crest}, width_m = 4.0, '
        "coefficient = { normal = { mean = 1.7, sd = 0.1 } } }\n"
    )


def bridge(draft: Draft) -> str:
    """A bridge with one flat opening and a deck, and debris in the opening."""
    return (
        f'[[element]]\nkind = "bridge"\nid = "lane"\n{bank(draft)}\n'
        f'opening = {{ shape = "box", span_m = {draft.pick(2.6, 3.4, 1)}, rise_m = 1.5, bed_level_m = 30.1 }}\n'
        'approach = { section = { shape = "trapezoid", bed_width_m = 3.0, side_slope = 1.5 }, bed_level_m = 30.1 }\n'
        "afflux_factor = { lognormal = { median = 1.0, cov = 0.3 } }\ndeck = { level_m = 32.2, length_m = 6.0 }\n"
    )


def reach(draft: Draft, name: str = "below") -> str:
    """A short channel."""
    return (
        f'[[element]]\nkind = "channel"\nid = "{name}"\n'
        'section = { shape = "trapezoid", bed_width_m = 2.8, side_slope = 1.5 }\n'
        f"length_m = {draft.pick(20.0, 60.0, 0)}\nbed_level_m = 30.0\nbed_slope = 0.002\n"
        f"manning_n = {{ lognormal = {{ median = {draft.pick(0.035, 0.055, 3)}, cov = 0.2 }} }}\n"
    )


def visits(rng: np.random.Generator, count: int) -> dict[str, str]:
    """Random visits to a screen."""
    zero, one = rng.uniform(0.2, 0.5), rng.uniform(0.0, 0.15)
    found = []
    for _ in range(count):
        share = float(np.clip(100.0 * rng.beta(1.5, 2.5), 5.0, 95.0))
        lot = rng.random()
        found.append(0 if lot < zero else 100 if lot < zero + one else round(share))
    return visits_of(found)


def visits_of(found: list[int]) -> dict[str, str]:
    """Visits that found these per cents blocked, each of which rakes the screen clean; and the file of the asset."""
    rows = ["asset_id,time_start,reason,observed,blocked_before_pct,blocked_basis,method,cleared"]
    for index, share in enumerate(found):
        when = f"{2012 + index // 12}-{index % 12 + 1:02d}-10T09:00+00:00"
        rows.append(f"lane,{when},scheduled,yes,{share},clear_opening,measured,full")
    asset = "asset_id,kind,position,bar_gap_mm,bar_width_mm\nlane,screen,inlet,125,20\n"
    return {"visits.csv": "\n".join(rows) + "\n", "assets.csv": asset}
