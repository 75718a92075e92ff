"""Floods in time by small explicit steps, which share no code with the program but the steady levels of a site."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overbank.outputs.passed_floods import Floods

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Levels:
    """Steady levels of every sample over flows and blocked shares, straight lines between them; shape (Q, B, n)."""

    flows: Array
    shares: Array
    table: Array

    def at(self, flow: Array, share: Array) -> Array:
        i, u = self._row(self.flows, flow)
        j, v = self._row(self.shares, share)
        n, t = np.arange(flow.size), self.table
        low = (1.0 - u) * t[i, j, n] + u * t[i + 1, j, n]
        return np.asarray((1.0 - v) * low + v * ((1.0 - u) * t[i, j + 1, n] + u * t[i + 1, j + 1, n]))

    def flow_at(self, level: Array, share: Array) -> Array:
        """The flow that stands so high, by straight lines."""
        j, v = self._row(self.shares, share)
        n = np.arange(level.size)
        column = (1.0 - v) * self.table[:, j, n] + v * self.table[:, j + 1, n]
        i = np.clip((column <= level).sum(axis=0) - 1, 0, len(self.flows) - 2)
        u = (level - column[i, n]) / np.maximum(column[i + 1, n] - column[i, n], 1e-9)
        return np.asarray(np.maximum(self.flows[i] + u * (self.flows[i + 1] - self.flows[i]), 0.0))

    @staticmethod
    def _row(ends: Array, value: Array) -> tuple[NDArray[np.intp], Array]:
        i = np.clip(np.searchsorted(ends, value, side="right") - 1, 0, len(ends) - 2)
        return i, (value - ends[i]) / (ends[i + 1] - ends[i])


def levels_of(floods: Floods, flows: Array, shares: Array) -> Levels:
    """By one run of the site for each."""
    one = np.ones(floods.flood.size)
    each = [floods.flood.levels(floods.place.changed(q * one, b * one)) for q in flows for b in shares]
    return Levels(flows, shares, np.array(each).reshape(len(flows), len(shares), -1))


def inflow(floods: Floods, hours: Array) -> Array:
    """Of a gamma flood at one time of each sample, by its formula."""
    number = floods.flood.number
    x = hours / number("flow.hydrograph.hours_to_peak")
    base, sharp = number("flow.hydrograph.base_flow_m3_s"), number("flow.hydrograph.sharpness")
    return np.asarray(base + (number("flow.design_m3_s") - base) * (x * np.exp(1.0 - x)) ** sharp)
