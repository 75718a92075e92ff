"""Checks of a distribution's parameters."""

from __future__ import annotations

import math

LARGEST = 1e100
"""A number beyond this overflows when it is squared a few times, and means nothing in a river."""


class ParameterError(ValueError):
    """Parameters that no distribution can have: what was expected, and what came."""

    def __init__(self, expected: str, got: object) -> None:
        self.expected, self.got = expected, str(got)
        super().__init__(f"expected {expected}, got {got}")


def expect(holds: bool, expected: str, got: object) -> None:
    """Raise ParameterError unless the condition holds."""
    if not holds:
        raise ParameterError(expected, got)


def expect_finite(**numbers: float) -> None:
    """Every number, given by its name, must be finite and of a size that can be reckoned with."""
    for name, number in numbers.items():
        expect(math.isfinite(number), f"a finite number for {name}", number)
        expect(abs(number) <= LARGEST, f"a number for {name} no larger than {LARGEST:g}", number)


def expect_positive(**numbers: float) -> None:
    """Every number, given by its name, must be finite and above zero."""
    expect_finite(**numbers)
    for name, number in numbers.items():
        expect(number > 0.0, f"{name} above 0", number)


def expect_mode(low: float, mode: float, high: float) -> None:
    """A finite interval of some width with the mode in it or at one of its ends."""
    expect_range(low, high)
    expect_finite(mode=mode)
    expect(low <= mode <= high, f"mode between low {low:g} and high {high:g}", mode)


def expect_range(low: float, high: float) -> None:
    """A finite interval of some width."""
    expect_finite(low=low, high=high)
    expect(low < high, "low below high", f"low {low:g} and high {high:g}")
