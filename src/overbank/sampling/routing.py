"""A pool fills and empties: level-pool routing, implicit, all samples at a time, each with its own error controlled.

    dS/dt = I(t) - q,    h = H(q, B(t)),    S = S(h)

I is the inflow, q the outflow, H the steady level of the site at that outflow, with all that stands below it, and S the
water in the pool. The outflow itself is what is solved for, so that the level of the site need never be inverted:

    S(H(q)) + g dt q = what was stored and came in

rises with q. Two implicit stages a step with g = 1 - sqrt(1/2) (L-stable, second order: Alexander, SIAM J. Numer.
Anal. 14, 1977; from memory, unverified). Without storage every stage gives q = I, the steady level. Where the level
jumps over the balance the outflow stands at the jump and the level is that of the water stored.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from overbank.hydraulics.pools import Pool
from overbank.sampling.flood import HOUR

Array = NDArray[np.float64]
Chosen = NDArray[np.intp]

G = 1.0 - sqrt(0.5)
"""The diagonal of the two stages."""

MIDDLE = 1.0 / (6.0 * G * (1.0 - G))
ERROR = (0.5 + MIDDLE * (G - 1.0), MIDDLE - (1.0 - G), 0.5 - MIDDLE * G - G)
"""On the net inflow at the beginning and at the stages: what a quadrature that is exact for parabolas has more."""

TOLERANCE = 1e-4
"""On the level, of each step [m]."""

PARTS = (1, 2, 4, 8, 16, 32, 64)
"""Parts of a step, as many as its tolerance needs, the last of them at the most."""

ROOT_M, ROOT_SHARE = 1e-6, 1e-6
NEAR_M, NEAR = 2e-4, 1e-3
"""On the last correction of the level [m] and of the outflow, as a share: times the one before it, and alone."""

SAME = 1e-9
"""Outflows nearer than this, as a share, tell nothing of a slope."""

JUMP, JUMP_M, MOST_TRIES = 1e-7, 1e-3, 60
"""So narrow an outflow, as a share, ends the search; a level that differs by so much [m] jumps there."""


class State(NamedTuple):
    """Water stored [m3], outflow [m3/s], level [m]; how stored water and level rise with the outflow [s], [s/m2]; what
    has come and gone since the beginning [m3]."""

    stored: Array
    outflow: Array
    level: Array
    stored_slope: Array
    level_slope: Array
    came: Array
    gone: Array

    def of(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> State:
        """Some of them."""
        return State(*(each[rows] for each in self))


class Moment(NamedTuple):
    """Inflow [m3/s] and blocked share of some samples at a time."""

    inflow: Array
    blocked: Array


At = Callable[[Array, Chosen], Moment]
LevelOf = Callable[[Array, Array, Chosen], Array]


@dataclass(frozen=True)
class Routing:
    """The pool, and the steady level of the site for (outflow, blocked share, chosen).

    held : level of the pool at the beginning, below the water outside, which keeps a flap shut [m]; None where the
        steady level stands in it
    """

    pool: Pool
    level_of: LevelOf
    held: Array | None = None

    def begin(self, now: Moment, chosen: Chosen) -> State:
        """The steady state of a flow; where nothing gets through, an empty pool; or one that a shut flap keeps low."""
        level = self.level_of(now.inflow, now.blocked, chosen)
        shut = np.isposinf(level)
        level = np.where(shut, self.pool.floor[chosen], level)
        if self.held is not None:
            low = np.maximum(self.held[chosen], self.pool.floor[chosen])
            shut |= low < level
            level = np.minimum(low, level)
        stored = self.pool.volume(level, chosen)
        nothing = np.zeros_like(level)
        return State(stored, np.where(shut, 0.0, now.inflow), level, nothing, nothing, nothing, nothing)

    def advance(self, state: State, start: Array, end: Array, chosen: Chosen, at: At) -> State:
        """To another time [hours], in as many parts as the tolerance on the level needs."""
        found = state
        wanted = np.ones(chosen.size)
        for parts in PARTS:
            now = np.flatnonzero(wanted == parts)
            if not now.size:
                continue
            tried, error = self._in_parts(state.of(now), start[now], end[now], chosen[now], at, parts)
            found = State(*(put(old, now, new) for old, new in zip(found, tried, strict=True)))
            more = parts * np.exp2(np.ceil(np.log2(np.maximum(error / TOLERANCE, 1.0)) / 3.0))
            wanted[now] = np.where(error > TOLERANCE, np.clip(more, 2 * parts, PARTS[-1]), 0.0)
        return found

    def _in_parts(
        self, state: State, start: Array, end: Array, chosen: Chosen, at: At, parts: int
    ) -> tuple[State, Array]:
        """The state, and the largest error of a part [m]."""
        step, worst = (end - start) / parts, np.zeros_like(start)
        for part in range(parts):
            state, error = self._step(state, start + part * step, step, chosen, at)
            worst = np.maximum(worst, error)
        return state, worst

    def _step(self, state: State, start: Array, hours: Array, chosen: Chosen, at: At) -> tuple[State, Array]:
        """One step: the state, and the error of the level [m]."""
        seconds = HOUR * hours
        own = G * seconds
        before, first, last = (at(start + part * hours, chosen) for part in (0.0, G, 1.0))
        middle = self._stage(state.stored, own, first, state, chosen)
        net = before.inflow - state.outflow, first.inflow - middle.outflow
        known = state.stored + (1.0 - G) * seconds * net[1]
        new = self._stage(known, own, last, middle, chosen)
        came = state.came + seconds * ((1.0 - G) * first.inflow + G * last.inflow)
        gone = state.gone + seconds * ((1.0 - G) * middle.outflow + G * new.outflow)
        missed = seconds * (ERROR[0] * net[0] + ERROR[1] * net[1] + ERROR[2] * (last.inflow - new.outflow))
        with np.errstate(invalid="ignore", divide="ignore"):
            error = np.abs(missed) * new.level_slope / (new.stored_slope + own)
        new = new._replace(came=came, gone=gone)
        emptied = known + own * last.inflow < 0.0  # more would have gone than there was: the step is too long
        error = np.where(emptied, np.inf, np.nan_to_num(error, nan=0.0))
        return new, np.where(hours > 0.0, error, 0.0)

    def _stage(self, known: Array, own: Array, now: Moment, guess: State, chosen: Chosen) -> State:
        """Solves S(H(q)) + own q = known + own I for q."""
        whole = known + own * now.inflow
        search = _Search(whole, own, now.inflow, guess)
        for _ in range(MOST_TRIES):
            rows = search.active
            if not rows.size:
                break
            level = self.level_of(search.outflow[rows], now.blocked[rows], chosen[rows])
            search.seen(rows, level, self.pool.volume(level, chosen[rows]))
        stored = np.maximum(whole - own * search.outflow, 0.0)
        level = search.level
        jumps = np.flatnonzero(search.jumped)
        if jumps.size:
            ends = search.level_low[jumps], search.level_high[jumps]
            held = self._level_of_stored(stored[jumps], *ends, chosen[jumps])
            level = put(level, jumps, held)
            sheer = jumps[(ends[1] - ends[0] > JUMP_M) & (whole[jumps] > 0.0)]
            search.level_slope[sheer] = 0.0  # the water stored tells the level: nothing to make finer
        failed = np.isnan(level)
        slopes = search.stored_slope, search.level_slope
        return State(np.where(failed, np.nan, stored), search.outflow, level, *slopes, guess.came, guess.gone)

    def _level_of_stored(self, stored: Array, low: Array, high: Array, chosen: Chosen) -> Array:
        """Level below which so much is stored [m], between two levels, by halving."""
        low = np.maximum(low, self.pool.floor[chosen])
        reach = np.ones_like(stored)
        for _ in range(60):
            short = (low + reach < high) & (self.pool.volume(low + reach, chosen) < stored)
            if not short.any():
                break
            reach = np.where(short, 2.0 * reach, reach)
        high = np.minimum(high, low + reach)
        for _ in range(60):
            middle = 0.5 * (low + high)
            under = self.pool.volume(middle, chosen) < stored
            low, high = np.where(under, middle, low), np.where(under, high, middle)
        return np.asarray(high)


class _Search:
    """Outflows of one stage, each between two that bracket it: secants, and halves where they do not help.

    level_low, level_high : levels of the ends, as far as they were seen; topped : whether the upper one was
    """

    def __init__(self, whole: Array, own: Array, inflow: Array, guess: State) -> None:
        self.whole, self.own = whole, own
        size = whole.size
        with np.errstate(divide="ignore", invalid="ignore"):
            self.most = np.where(own > 0.0, np.maximum(whole, 0.0) / own, guess.outflow)
        self.scale = np.minimum(np.maximum(inflow, guess.outflow), self.most)
        self.low, self.high = np.zeros(size), self.most.copy()
        self.level_low, self.level_high = np.full(size, -np.inf), np.full(size, np.inf)
        self.outflow = np.clip(self._likely(guess), 0.0, self.most)
        self.level = guess.level.copy()
        self.stored_slope, self.level_slope = guess.stored_slope.copy(), guess.level_slope.copy()
        self.last = np.full((3, size), np.nan)
        self.jumped, self.topped = np.zeros((2, size), dtype=np.bool_)
        self.width = np.full(size, np.inf)
        still = (own <= 0.0) | np.isnan(whole)
        self.level[np.isnan(whole)] = np.nan
        self.active = np.flatnonzero(~still)

    def _likely(self, before: State) -> Array:
        """The outflow if stored water went on rising with it as it did."""
        excess = self.whole - before.stored - self.own * before.outflow
        with np.errstate(divide="ignore", invalid="ignore"):
            ahead = before.outflow + excess / (self.own + before.stored_slope)
        return np.where(np.isfinite(ahead) & (self.own > 0.0), ahead, before.outflow)

    def seen(self, rows: Chosen, level: Array, stored: Array) -> None:
        """The level at the outflows of the active ones, and what is stored below it."""
        q = self.outflow[rows]
        excess = stored + self.own[rows] * q - self.whole[rows]
        with np.errstate(invalid="ignore"):  # both levels are endless
            apart, rose = np.abs(q - self.last[0, rows]), np.abs(level - self.last[2, rows])
        self._slopes(rows, q, stored, level)
        over = excess >= 0.0
        self.topped[rows] |= over
        self.high[rows], self.low[rows] = np.where(over, q, self.high[rows]), np.where(over, self.low[rows], q)
        self.level_high[rows] = np.where(over, level, self.level_high[rows])
        self.level_low[rows] = np.where(over, self.level_low[rows], level)
        self.last[:, rows] = q, stored, level
        with np.errstate(invalid="ignore"):
            correction = excess / (self.stored_slope[rows] + self.own[rows])
            rise = correction * self.level_slope[rows]
        wanted = q - correction
        scale = self.scale[rows]
        near = (np.abs(correction) * apart <= ROOT_SHARE * scale**2) & (np.abs(rise) * rose <= ROOT_M)
        near |= np.abs(correction) <= SAME * scale
        near &= (np.abs(correction) <= NEAR * scale) & (np.abs(rise) <= NEAR_M)
        inside = (wanted >= self.low[rows]) & (wanted <= self.high[rows])
        near &= inside
        failed = np.isnan(level)
        narrow = self.high[rows] - self.low[rows] <= JUMP * self.scale[rows]
        done = near | failed | narrow
        self.level[rows] = np.where(failed, np.nan, np.where(near, level - rise, level))
        self.jumped[rows] = narrow & ~near & ~failed & self.topped[rows]
        self.outflow[rows] = np.where(near, wanted, np.where(narrow, self.low[rows], self._next(rows, wanted, inside)))
        self.active = rows[~done]

    def _slopes(self, rows: Chosen, q: Array, stored: Array, level: Array) -> None:
        """From the outflow before, where there is one far enough off."""
        before, held, stood = self.last[:, rows]
        with np.errstate(invalid="ignore", divide="ignore"):
            apart = q - before
            slopes = (stored - held) / apart, (level - stood) / apart
        sound = (np.abs(apart) > SAME * self.scale[rows]) & np.isfinite(slopes[0]) & np.isfinite(slopes[1])
        sound &= (slopes[0] >= 0.0) & (slopes[1] >= 0.0)
        self.stored_slope[rows] = np.where(sound, slopes[0], self.stored_slope[rows])
        self.level_slope[rows] = np.where(sound, slopes[1], self.level_slope[rows])

    def _next(self, rows: Chosen, wanted: Array, inside: NDArray[np.bool_]) -> Array:
        """The secant's outflow; the middle where it leads out, or where the bracket has not halved; near nothing where
        all else is endless."""
        low, high = self.low[rows], self.high[rows]
        slow = high - low > 0.5 * self.width[rows]
        self.width[rows] = high - low
        shut = (low == 0.0) & np.isposinf(self.level_high[rows]) & (high < self.most[rows])
        middle = np.where(shut, 1e-3 * high, 0.5 * (low + high))
        return np.where(inside & ~slow & np.isfinite(wanted), wanted, middle)


def put(old: Array, rows: Chosen, new: Array) -> Array:
    """Some of the old ones replaced."""
    changed = old.copy()
    changed[rows] = new
    return changed
