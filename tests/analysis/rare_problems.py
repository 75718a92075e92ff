"""Rare events of known probability, as conditional probabilities of independent normal scores."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from known_answers import Array, Toy, four_branches, scores, standard_error
from scipy import stats
from scipy.special import ndtr, ndtri

from overbank.analysis import rare
from overbank.analysis.ladder import tail_probability
from overbank.analysis.rare import Rare
from overbank.analysis.short_ladder import critical_values

Conditional = Callable[[Array], Array]


def estimate(conditional: Conditional, dimension: int, seed: int, *, pilot: int = 256, **sizes: int) -> Rare:
    """The whole way: an ordinary pilot, the search, the figure."""
    z = scores(1, pilot, dimension, seed + 1000)[0]
    return rare.probability(conditional, z, conditional(z), seed=seed, **sizes)


def relative_error(found: Rare, replicates: int = 16) -> float:
    """Back from the interval on a log scale to the standard error as a share of the value."""
    return standard_error(float(np.log(found.low)), float(np.log(found.high)), replicates)


def assert_found(found: Rare, exact: float, largest_error: float, reference_error: float = 0.0) -> None:
    """Within four standard errors of the exact value, and the standard error small enough to say something."""
    own = relative_error(found)
    assert own <= largest_error, (own, found)
    assert abs(np.log(found.value / exact)) <= 4 * np.hypot(own, reference_error / exact), (exact, own, found)
    assert found.note == ""


# --- linear limit state: over when the sum of n unit normals, divided by sqrt(n), exceeds beta; P = Phi(-beta) ---


def linear_count(dimension: int, beta: float) -> Conditional:
    """Nothing integrated out: 0 or 1."""
    return lambda z: (np.sum(z, axis=1) > beta * np.sqrt(dimension)).astype(np.float64)


def linear_conditional(left: int, beta: float, share: float) -> Conditional:
    """One input, with this share of the variance, integrated out; `left` equal ones remain."""
    weight = np.sqrt((1 - share) / left)
    return lambda z: ndtr((weight * np.sum(z, axis=1) - beta) / np.sqrt(share))


def four_branch_count(k: float) -> Conditional:
    return lambda z: (four_branches(z, k) < 0).astype(np.float64)


# --- the toy crossing, its blockage integrated out by a ladder of three nodes and the polish ---


def toy_conditional(toy: Toy) -> Conditional:
    spread = float(np.sqrt(1 - toy.correlation**2))

    def conditional(z: Array) -> Array:
        load = toy.load(z)
        found = critical_values(
            lambda b, sample: toy.depth_over_bank(b, load[sample]), np.array([0.0, 0.8, 1.0]), len(z), 1e-6
        )
        return tail_probability(found.value, toy.score_below, toy.correlation * z[:, 0], spread)

    return conditional


# --- river with a dyke, as in the use cases of a reference library (OpenTURNS 1.27, flood_model) ---


@dataclass(frozen=True)
class LooseDyke:
    """S = Zv + H - Hd - Cb > 0, H = (Q/(B Ks sqrt((Zm - Zv)/L)))^0.6, flow and Ks truncated only at 0.

    Q ~ Gumbel(mode 1013, scale 558), Ks ~ N(30, 7.5), Zv ~ U(49, 51), Zm ~ U(54, 56), Hd ~ U(low, low + 2),
    Cb, L, B triangular (55, 55.5, 56), (4990, 5000, 5010), (295, 300, 305). The flow is the integrated input; the order
    of the others is Ks Zv Zm Hd Cb L B.
    """

    lowest_dyke: float

    def flow(self, score: Array) -> Array:
        below = _GUMBEL.cdf(0)
        return np.asarray(_GUMBEL.isf(ndtr(-score) * (1 - below)))

    def flow_score_below(self, flow: Array) -> Array:
        below = _GUMBEL.cdf(0)
        return np.asarray(-ndtri(np.clip(_GUMBEL.sf(flow) / (1 - below), 0, 1)))

    def overflow(self, flow: Array, others: list[Array]) -> Array:
        Ks, Zv, Zm, Hd, Cb, L, B = others
        return Zv + (flow / (B * Ks * np.sqrt((Zm - Zv) / L))) ** 0.6 - Hd - Cb

    def others(self, z: Array) -> list[Array]:
        u = ndtr(z)
        below = ndtr(-30 / 7.5)
        ends = ((55, 56), (4990, 5010), (295, 305))
        thirds = [stats.triang(0.5, low, high - low).ppf(u[:, 4 + i]) for i, (low, high) in enumerate(ends)]
        Ks = np.maximum(30 - 7.5 * ndtri(ndtr(-z[:, 0]) * (1 - below)), 1e-6)  # 0 in double precision otherwise
        return [Ks, 49 + 2 * u[:, 1], 54 + 2 * u[:, 2], self.lowest_dyke + 2 * u[:, 3], *thirds]

    def conditional(self, z: Array) -> Array:
        """P(S > 0 | the others) by a ladder over the flow."""
        others = self.others(z)
        nodes = self.flow(np.array([-7.0, 3.0, 8.0]))
        found = critical_values(
            lambda q, sample: self.overflow(q, [x[sample] for x in others]), nodes, len(z), 1e-4 * float(nodes[-1])
        )
        return tail_probability(found.value, self.flow_score_below, 0.0, 1.0)


_GUMBEL = stats.gumbel_r(loc=1013, scale=558)
