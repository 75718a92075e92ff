"""The input that is integrated out: one that the water rises with, or the negative of one that it falls with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overbank.sampling.samples import Array
from overbank.uncertain.conditioning import Given
from overbank.uncertain.distributions import Distribution
from overbank.uncertain.inputs import Inputs
from overbank.uncertain.reflected import Reflected, ReflectedGiven


@dataclass(frozen=True)
class IntegratedInput:
    """An input to integrate out.

    inputs : all uncertain numbers
    name : of the one that is integrated out
    sign : -1 where the water falls with it, so that its negative is integrated out; else 1
    """

    inputs: Inputs
    name: str
    sign: int = 1

    @property
    def column(self) -> int:
        """Of the input."""
        return self.inputs.index(self.name)

    @property
    def distribution(self) -> Distribution:
        """Of the input, or of its negative."""
        own = self.inputs.items[self.column].distribution
        return own if self.sign > 0 else Reflected(own)

    def numbers(self, values: Array) -> Array:
        """Values of the input itself, from those of the integrated input."""
        return np.asarray(self.sign * values)

    def given(self, z: Array) -> Given:
        """What the other inputs of each sample, by their correlated scores [..., d], say of the integrated input's
        score."""
        own = self.inputs.copula.given(self.column, z)
        return own if self.sign > 0 else ReflectedGiven(own)
