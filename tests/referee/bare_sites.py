"""Three bare sites, all invented, of which so little is uncertain that what is right has a closed form.

A *pond*, whose level is that of a rating, 10 + flow/10 (+ a shift); a *tide*, whose level is the tailwater's, whatever
flows; and a *screen* before a box culvert.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from referee.case import Case
from referee.figures import Figure
from referee.site_adapter import SiteFunction

BLOCKAGE = "lane.screen.blockage"

Truth = Callable[[Case, SiteFunction], dict[str, Figure]]


@dataclass(frozen=True)
class Directed:
    """A study and the figures that are right for it; `item` is the number of the complaint that it answers."""

    item: int
    case: Case
    truth: Truth


def normal_flow(mean: float, sd: float) -> str:
    """A design flow."""
    return f"design_m3_s = {{ normal = {{ mean = {mean}, sd = {sd} }} }}"


def run_and_decision(samples: int, target: float, assurance: float) -> str:
    """The first tables of a study."""
    return (
        f"[run]\nsamples = {samples}\nreplicates = 16\nseed = 3\n\n"
        f"[decision]\ntarget_probability = {target}\nassurance = {assurance}\n\n"
    )


def pond(name: str, flow: str, bank: str, shift: str, more: str = "", files: dict[str, str] | None = None) -> Case:
    """Level 10 + flow/10 + shift."""
    text = (
        f'title = "A pond: {name} (invented)"\n\n{run_and_decision(4096, 0.1, 0.9)}[flow]\n{flow}\n\n'
        f'[tailwater]\nrating = "rating.csv"\nrating_shift_m = {shift}\n\n[[element]]\nkind = "channel"\nid = "pond"\n'
        'section = { shape = "rectangle", width_m = 400.0 }\nlength_m = 0.1\nbed_level_m = 0.0\nbed_slope = 0.0001\n'
        f"manning_n = 0.02\nbank_level_m = {bank}\n{more}"
    )
    rating = {"rating.csv": "flow_m3_s,level_m\n0.001,10.0001\n400.0,50.0\n"}
    return Case(name, text, rating | (files or {}))


def tide(name: str, level: str, bank: float, years: int) -> Case:
    """The level is that of the tailwater in every flood."""
    text = (
        f'title = "A tide: {name} (invented)"\n\n{run_and_decision(4096, 0.1, 0.9)}'
        "[flow]\ndesign_annual_probability = 0.01\n"
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
        head = run_and_decision(self.samples, self.target, self.assurance)
        text = (
            f'title = "A screen: {self.name} (invented)"\n\n{head}[flow]\n'
            f'{self.flow}\n\n[tailwater]\nlevel_m = 30.8\n\n[[element]]\nkind = "culvert"\nid = "lane"\n'
            f'bank_level_m = {self.bank}\nbarrel = {{ shape = "box", span_m = 2.2, rise_m = 1.5, length_m = 12.0, '
            "upstream_invert_m = 30.10, downstream_invert_m = 30.00, manning_n = 0.014 }\n"
            f'inlet = {{ edge = "wingwalls 30 to 75 deg", head_factor = {self.head_factor} }}\n\n[element.screen]\n'
            "width_m = 3.0\nheight_m = 1.9\nbar_m = 0.02\ngap_m = 0.125\n"
            f"overflow = {str(self.overflow).lower()}\nblockage = {self.blockage}\n{road}{self.more}"
        )
        return Case(self.name, text, files or {})
