"""Figures in words, the same in the terminal and in the report, and the cautions that go with every result."""

from __future__ import annotations

import math
from typing import NamedTuple

from overbank.analysis.intervals import Estimate


class Rounded(NamedTuple):
    """A figure and its 95 % interval in words, with no digit that the interval does not support."""

    value: str
    interval: str


def known_decimals(estimate: Estimate, most: int, scale: float = 1.0) -> int:
    """Decimals of scale times the figure: the last is the first one that the interval's half width reaches."""
    half = 0.5 * scale * (estimate.high - estimate.low)
    if not math.isfinite(half) or half <= 0.0:
        return most
    return min(max(0, -math.floor(math.log10(half))), most)


def rounded(estimate: Estimate, unit: str) -> Rounded:
    """A probability ("p": three figures at most), a level ("m": centimetres at most), a blockage ("%": whole per cent).

    The interval is rounded outwards. Non-breaking spaces before the units. Where there is no such blockage the
    estimate's note says why, in place of the interval.
    """
    if unit == "%" and math.isnan(estimate.value):
        return Rounded("none", estimate.note.removeprefix("none: ") or "none can be given")
    scale, sign = (1.0, "m") if unit == "m" else (100.0, "%")
    most = {"m": 2, "%": 0, "p": _three_figures(100.0 * min(estimate.value, 1.0 - estimate.value))}[unit]
    decimals = known_decimals(estimate, most, scale)

    def said(number: float) -> str:
        if math.isinf(number):
            return f"{'above' if number > 0 else 'below'} every level looked at"
        return "unknown" if math.isnan(number) else f"{written(number, decimals)}\u00a0{sign}"

    def outwards(number: float, side: int) -> float:
        if math.isinf(number):
            return number
        step = 10.0**-decimals
        return side * math.ceil(side * scale * number / step - 1e-9) * step

    if math.isnan(estimate.low) or math.isnan(estimate.high):
        return Rounded(said(scale * estimate.value), "none can be given")
    if unit == "p" and estimate.value in (0.0, 1.0):
        if estimate.low == estimate.high:
            return Rounded(f"{100.0 * estimate.value:.0f}\u00a0%", "exactly")
        never = estimate.value == 0.0
        limit = estimate.high if never else estimate.low
        decimals = _three_figures(100.0 * min(limit, 1.0 - limit)) - 1
        return Rounded(f"{100.0 * estimate.value:.0f}\u00a0%", f"{'below' if never else 'above'} {said(100.0 * limit)}")
    low, high = said(outwards(estimate.low, -1)), said(outwards(estimate.high, 1))
    if low == high:
        return Rounded(said(scale * estimate.value), "no scatter")
    if low.endswith(sign) and high.endswith(sign):
        low = low.removesuffix(f"\u00a0{sign}")
    return Rounded(said(scale * estimate.value), f"{low} to {high}")


def change(estimate: Estimate, unit: str) -> Rounded:
    """A difference with its sign and interval: of probabilities ("p") in percentage points, of levels ("m") or "hours".

    Differences on common random numbers are known better than what they are of: levels to the millimetre at most. The
    interval is rounded outwards.
    """
    scale, name = (100.0, "points") if unit == "p" else (1.0, unit)
    if not math.isfinite(estimate.value):
        return Rounded("endless" if math.isinf(estimate.value) else "unknown", "none can be given")
    decimals = known_decimals(estimate, 3 if unit == "m" else 2, scale)

    def said(number: float) -> str:
        return written(number, decimals, "+").replace("-", "\u2212")

    def outwards(number: float, side: int) -> float:
        step = 10.0**-decimals
        return side * math.ceil(side * scale * number / step - 1e-9) * step

    known = math.isfinite(estimate.low) and math.isfinite(estimate.high)
    ends = (said(outwards(estimate.low, -1)), said(outwards(estimate.high, 1))) if known else ()
    return Rounded(f"{said(scale * estimate.value)}\u00a0{name}", " to ".join(ends) or "none can be given")


def scaled(estimate: Estimate, scale: float, unit: str, most: int = 1) -> Rounded:
    """Scale times a figure with its unit, at most so many decimals, large numbers to whole tens or hundreds.

    The last digit is the first one that the interval's half width reaches; the interval is rounded outwards.
    """
    value, low, high = (scale * number for number in (estimate.value, estimate.low, estimate.high))
    half = 0.5 * (high - low)
    known = math.isfinite(half) and half > 0.5 * 10.0 ** -(most + 3)
    decimals = min(most, -math.floor(math.log10(half))) if known else most * (value != 0.0)

    def said(number: float) -> str:
        shown = f"{round(number, decimals) + 0.0:,.{max(0, decimals)}f}"
        return (shown.lstrip("-") if not shown.strip("-0.,") else shown).replace("-", "\u2212")

    def outwards(number: float, side: int) -> float:
        step = 10.0**-decimals
        return side * math.ceil(side * number / step - 1e-6) * step

    if not math.isfinite(value):
        return Rounded("unknown" if math.isnan(value) else "endless", "none can be given")
    shown = f"{said(value)}\u00a0{unit}" if unit else said(value)
    if not (math.isfinite(low) and math.isfinite(high)):
        return Rounded(shown, "none can be given")
    return Rounded(shown, f"{said(outwards(low, -1))} to {said(outwards(high, 1))}" if known else "no scatter")


def measure(number: float, unit: str, *, signed: bool = False) -> str:
    """A length [m] or a ratio ("") to two decimals; an endless length is that of no way through."""
    if math.isnan(number):
        return "no solution"
    if math.isinf(number):
        return "no way through"
    shown = written(number, 2, "+" if signed else "").replace("-", "\u2212")
    return f"{shown}\u00a0{unit}" if unit else shown


def asked_words(asked: float, unit: str, asked_by: str) -> str:
    """What a figure is set against, and who asks for it."""
    whose = {"study": "", "default": ", default", "": ", the barrels"}[asked_by]
    return f"{measure(asked, unit)}{whose}"


def share_words(share: float) -> str:
    """A share as somebody chose it: 5 %, 0.5 %, 99.9 %."""
    return f"{100.0 * share:.6g}\u00a0%"


def one_in(probability: float) -> str:
    """A small probability as one in so many, two figures."""
    return f"1 in {_rounded(1.0 / probability):,}"


def written(number: float, decimals: int, plus: str = "") -> str:
    """A number with so many decimals, with a plus if asked for; what rounds to nought has no minus."""
    return f"{round(number, decimals) + 0.0:{plus}.{decimals}f}"


def _three_figures(number: float) -> int:
    """Decimals that give a number three figures."""
    return 2 if number <= 0.0 or not math.isfinite(number) else max(0, 2 - math.floor(math.log10(number)))


def _rounded(number: float) -> int:
    """Two figures that count."""
    digits = max(0, math.floor(math.log10(number)) - 1)
    return int(round(number / 10**digits) * 10**digits)


def cautions() -> tuple[str, ...]:
    """What is printed with every result."""
    return (
        "An aid to judgement, not a design and not a safety case: a competent, licensed engineer and the owner of "
        "the structure must review it, and local codes, permits and safety law come first.",
        "Blockage probabilities are judgement unless they were fitted to records of this site; the table of "
        "assumptions says which.",
        "Formulas and coefficients marked unverified were not checked against their original.",
        "A screen keeps debris and people out of a culvert and can hold both against its bars; whether to fit one "
        "is a decision for people, and nothing here decides it.",
        "The levels are those of one flood peak in a row of structures: storage, waves, scour, structural failure and "
        "water that leaves the channel elsewhere are not in them.",
    )
