"""Closed forms and quadratures for studies in which all but one or two numbers are certain; no sampling in them."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray
from scipy import special

from referee import families
from referee.families import Array
from referee.reading import DESIGN, Number
from referee.site_adapter import SiteFunction

HALVINGS, NODES = 40, 120

Below = Callable[[Array], Array]
"""Flow -> P(Q < flow)."""


def least(over: Callable[[Array], NDArray[np.bool_]], low: float, high: float, shape: tuple[int, ...]) -> Array:
    """Least number from low to high at which something rising comes true, by halving; endless where it never does."""
    bottom, top = np.full(shape, low), np.full(shape, high)
    never = ~over(top)
    for _ in range(HALVINGS):
        middle = 0.5 * (bottom + top)
        above = over(middle)
        bottom, top = np.where(above, bottom, middle), np.where(above, middle, top)
    return np.where(never, np.inf, 0.5 * (bottom + top))


def capacity(site: SiteFunction, level: float, blockage: str, shares: Array) -> Array:
    """Least flow that stands higher than a level, with each blocked share [m3/s]."""
    return capacity_of(site, level, {blockage: shares})


def capacity_of(site: SiteFunction, level: float, values: Mapping[str, Array]) -> Array:
    """Least flow that stands higher than a level, with each of these numbers [m3/s]."""
    count = next(iter(values.values())).size

    def over(flow: Array) -> NDArray[np.bool_]:
        return np.asarray(site.level({**values, DESIGN: flow}, count) > level)

    return least(over, families.LEAST_FLOW, 400.0, (count,))


def critical(site: SiteFunction, level: float, blockage: str, flow: float) -> float:
    """Least blocked share with which a flow stands higher than a level."""

    def over(share: Array) -> NDArray[np.bool_]:
        return np.asarray(site.level({DESIGN: np.full(share.size, flow), blockage: share}, share.size) > level)

    return float(least(over, 0.0, 1.0, (1,))[0])


def shares_of(blockage: Number) -> tuple[Array, Array]:
    """Blocked shares and their weights: every lump, and Gauss-Legendre nodes of the chance between."""
    points, weights = np.polynomial.legendre.leggauss(NODES)
    inner, weight = 0.5 * (points + 1.0), 0.5 * weights
    given = blockage.given
    if blockage.family == "inflated_beta":
        zero, one = given["at_zero"], given["at_one"]
        between = special.betaincinv(given["a"], given["b"], inner)
        return np.concatenate([[0.0], between, [1.0]]), np.concatenate([[zero], (1 - zero - one) * weight, [one]])
    return blockage.values(special.ndtri(inner), given), weight


def not_above(site: SiteFunction, level: float, blockage: Number, below: Below) -> float:
    """P(the water stands no higher than a level), the flow and the blockage alone being uncertain."""
    shares, weights = shares_of(blockage)
    return float(weights @ below(capacity(site, level, blockage.path, shares)))


def level_quantile(
    site: SiteFunction, share: float, blockage: Number, below: Below, ends: tuple[float, float]
) -> float:
    """Level not exceeded with a probability [m], by halving between two levels."""
    low, high = ends
    for _ in range(24):
        middle = 0.5 * (low + high)
        enough = not_above(site, middle, blockage, below) >= share
        low, high = (low, middle) if enough else (middle, high)
    return 0.5 * (low + high)


def event_shapley(correlation: float, slopes: tuple[float, float], depth_over_bank: float) -> tuple[float, float]:
    """Shapley effects of the event a x + b y > depth over the bank of two standard normal numbers that go together.

    With two inputs the effect of x is half of (V[E(Y|x)] + V[Y] - V[E(Y|y)]), over V[Y]: Owen and Prieur 2017 (from
    memory). E(Y|x) is a normal integral; its variance is summed over a fine grid.
    """
    whole = special.ndtr(
        -depth_over_bank / np.sqrt(slopes[0] ** 2 + slopes[1] ** 2 + 2 * correlation * slopes[0] * slopes[1])
    )
    variance = whole * (1.0 - whole)
    grid = np.linspace(-9.0, 9.0, 20_001)
    density = np.exp(-0.5 * grid**2)
    density /= density.sum()
    alone = []
    for own, other in (slopes, slopes[::-1]):
        mean = own * grid + other * correlation * grid - depth_over_bank
        given = special.ndtr(mean / (other * np.sqrt(1.0 - correlation**2)))
        alone.append(float(density @ (given - whole) ** 2))
    return tuple(0.5 * (alone[k] + variance - alone[1 - k]) / variance for k in (0, 1))


def enumerated(
    numbers: Mapping[str, tuple[Array, Array]], level: Callable[[dict[str, Array]], Array]
) -> tuple[Array, Array]:
    """All levels and their chances, of independent numbers that take a few values each."""
    grids = np.meshgrid(*(values for values, _ in numbers.values()), indexing="ij")
    chances = np.meshgrid(*(weights for _, weights in numbers.values()), indexing="ij")
    table = {name: grid.ravel() for name, grid in zip(numbers, grids, strict=True)}
    return level(table), np.prod([each.ravel() for each in chances], axis=0)
