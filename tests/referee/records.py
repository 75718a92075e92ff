"""What visits tell of a blockage: draws of an inflated beta's parameters from their posterior.

The model is the one that the docs state: chances of 0, between and 1 with a Dirichlet prior worth five looks; logit of
the mean between, and logarithm of a + b, with normal priors of 0.7 and 0.6 about the starting point, cut off at 3.5
standard deviations. Every look here is surely 0, surely 1, or surely between, so that the two parts are independent:
the Dirichlet is conjugate (closed form), the other part is drawn from a fine grid.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from scipy import special

from referee.families import Array

Start = tuple[float, float, float, float]
"""at_zero, a, b, at_one of a starting point."""

STARTS: dict[str, Start] = {
    "screen, low debris, raked on alert": (0.4, 1.2, 4.0, 0.01),
    "screen, medium debris, routine raking": (0.2, 1.5, 2.5, 0.05),
    "screen, high debris, no attendance": (0.05, 2.0, 1.8, 0.2),
}
"""Starting points as the page of coefficients prints them (own proposal of the program, not published)."""

WORTH, LEAST, LOGIT_SD, LOG_SD, REACH, STEPS = 5.0, 0.05, 0.7, 0.6, 3.5, 241

READING_ERROR = 2.5
"""Of a share that was measured, in per cent, as the study file says."""


@dataclass(frozen=True)
class Looks:
    """Numbers of looks that found nothing and everything blocked, and the ends of the interval of the others."""

    clean: int
    shut: int
    between: tuple[tuple[float, float], ...]


def start(words: str) -> Start:
    """The starting point of these words."""
    return STARTS[words]


def looks(visits: str, asset: str) -> Looks:
    """Looks from the text of a file of visits, each raked clean afterwards and so independent of the next."""
    rows = [row for row in csv.DictReader(io.StringIO(visits)) if row["asset_id"] == asset]
    shares = [float(row["blocked_before_pct"]) for row in rows]
    inner = [share for share in shares if 0.0 < share < 100.0]
    ends = tuple(
        (max(share - READING_ERROR, 0.0) / 100.0, min(share + READING_ERROR, 100.0) / 100.0) for share in inner
    )
    return Looks(shares.count(0.0), shares.count(100.0), ends)


def posterior(seen: Looks, prior: Start, rng: np.random.Generator, count: int) -> dict[str, Any]:
    """Draws of at_zero, a, b and at_one, shape (count,) each."""
    zero, _, _, one = prior
    worth = np.maximum(WORTH * np.array([zero, 1.0 - zero - one, one]), LEAST)
    shares = rng.dirichlet(worth + np.array([seen.clean, len(seen.between), seen.shut]), size=count)
    mean, total, heights = grid(seen, prior)
    place = np.minimum(np.searchsorted(heights, rng.random(count) * heights[-1]), heights.size - 1)
    chosen, size = mean[place], total[place]
    return {"at_zero": shares[:, 0], "a": chosen * size, "b": (1.0 - chosen) * size, "at_one": shares[:, 2]}


@lru_cache(maxsize=4)
def grid(seen: Looks, prior: Start) -> tuple[Array, Array, Array]:
    """Points of the other part: mean between, a + b, and the running sum of how likely they are."""
    _, a, b, _ = prior
    across, up = (axis.ravel() for axis in np.meshgrid(*2 * [np.linspace(-REACH, REACH, STEPS)]))
    mean = special.expit(special.logit(a / (a + b)) + LOGIT_SD * across)
    total = (a + b) * np.exp(LOG_SD * up)
    logs = -0.5 * (across**2 + up**2)
    for low, high in seen.between:
        inside = special.betainc(mean * total, (1.0 - mean) * total, high)
        inside -= special.betainc(mean * total, (1.0 - mean) * total, low)
        logs += np.log(np.maximum(inside, 1e-300))
    return mean, total, np.cumsum(np.exp(logs - logs.max()))
