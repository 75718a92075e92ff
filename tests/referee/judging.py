"""Program beside referee: how far apart two figures are, in joint standard errors."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats

from referee.figures import Figure
from referee.results_adapter import Said

FAR = 3.5
"""Joint standard errors beyond which a figure is wrong, as the chance of a normal error."""

NOUGHT = {"level": 1e-3, "allowance": 2e-3, "largest": 2e-3}
"""Differences that do not count: a millimetre, and a fifth of a per cent of blockage, within which roots are solved."""

A_THOUSANDTH = 1e-3
"""Of a probability does not count either, for the same reason."""


@dataclass(frozen=True)
class Judged:
    """One line of the table."""

    study: str
    figure: str
    said: Said
    truth: Figure
    z: float

    @property
    def agrees(self) -> bool:
        """Within the joint standard errors."""
        return abs(self.z) <= FAR

    @property
    def inside(self) -> bool:
        """Whether the printed interval holds the referee's value, or differs by what does not count."""
        return bool(self.z == 0.0 or self.said.low <= self.truth.value <= self.said.high)

    @property
    def words(self) -> str:
        """The line in words."""
        said, truth = self.said, self.truth
        error = 0.5 * (truth.below + truth.above)
        return (
            f"| {self.study} | {self.figure} | {said.value:.6g} | {said.low:.6g} to {said.high:.6g} "
            f"| {truth.value:.6g} | {error:.2g} | {self.z:+.2f} |"
        )


HEADER = "| study | figure | program | its 95 % interval | referee | its error | z |\n|---|---|---|---|---|---|---|"


def judged(study: str, figure: str, said: Said, truth: Figure) -> Judged:
    """The figure with its distance; `inf` where one has a value and the other none."""
    if truth.perhaps_none and math.isnan(said.value):
        return Judged(study, figure, said, truth, 0.0)
    apart = _apart(figure, said, truth, truth.value)
    if not math.isnan(truth.also):
        other = _apart(figure, said, truth, truth.also)
        apart = other if abs(other) < abs(apart) else apart
    return Judged(study, figure, said, truth, apart)


def _apart(figure: str, said: Said, truth: Figure, value: float) -> float:
    if math.isnan(said.value) or math.isnan(value):
        return 0.0 if math.isnan(said.value) and math.isnan(value) else math.inf
    nought = NOUGHT.get(figure.split(" ", 1)[0], A_THOUSANDTH * abs(value))
    if said.value == value or abs(said.value - value) <= nought:
        return 0.0
    if math.isinf(said.value) or math.isinf(value):
        return _endless(said, truth, value)
    return _finite(said, truth, said.value - value)


def _finite(said: Said, truth: Figure, gap: float) -> float:
    """Gap in joint standard errors, each to the side on which the other lies."""
    half = said.value - said.low if gap > 0.0 else said.high - said.value
    freedom = said.replicates - 1
    own = 0.0 if math.isnan(half) else half / float(stats.t.ppf(0.975, freedom))
    joint = math.hypot(own, truth.above if gap > 0.0 else truth.below)
    if math.isinf(joint):
        return 0.0
    return _normal(gap / joint, own, joint, freedom) if joint > 0.0 else math.copysign(math.inf, gap)


def _normal(t: float, own: float, joint: float, freedom: int) -> float:
    """The normal score as unlikely as this Student t; degrees of freedom after Welch and Satterthwaite."""
    if own == 0.0:
        return t
    degrees = freedom * (joint / own) ** 4
    score = float(stats.norm.isf(stats.t.sf(abs(t), degrees))) if degrees < 1e6 else abs(t)
    return math.copysign(score if np.isfinite(score) else abs(t), t)


def _endless(said: Said, truth: Figure, value: float) -> float:
    """One of the two is endless: no distance where an interval of either reaches there."""
    reaches = said.high == math.inf if value == math.inf else math.isinf(truth.above)
    return 0.0 if reaches else math.copysign(math.inf, said.value - value if math.isinf(said.value) else -value)
