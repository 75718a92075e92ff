"""Dependence between uncertain numbers: a Gaussian copula, given by rank correlations."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from overbank.uncertain.checks import ParameterError, expect
from overbank.uncertain.scores import Values

SMALLEST_EIGENVALUE = 1e-8
"""Below this the correlations leave no freedom to some combination of the numbers: not positive definite."""


@dataclass(frozen=True, eq=False)
class Conditional:
    """One normal score given all the others, in their order: z_j ~ N(rest @ weights, spread^2)."""

    weights: Values
    spread: float


@dataclass(frozen=True, eq=False)
class Copula:
    """Gaussian copula: standard normal scores with a correlation matrix.

    Parameters
    ----------
    names : one for each uncertain number
    correlation : of the normal scores [d, d], positive definite
    """

    names: tuple[str, ...]
    correlation: Values
    _root: Values = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_root", np.linalg.cholesky(self.correlation))

    @classmethod
    def from_rank_correlations(cls, names: Sequence[str], pairs: Mapping[tuple[str, str], float]) -> Copula:
        """Copula with these Spearman rank correlations; pairs not named are independent.

        Normal scores with correlation r have the rank correlation (6/pi) asin(r/2), so r = 2 sin(pi rho/6).
        Source: Pearson 1907; from memory; the tests hold it against samples.

        Raises
        ------
        ValueError, "expected ..., got ...", for an unknown name, a pair given twice or with itself,
        |rho| >= 1, or correlations that cannot all hold at once (not positive definite).
        """
        names = tuple(names)
        expect(len(set(names)) == len(names), "names that all differ", ", ".join(names))
        _check_pairs(names, pairs)
        correlation = _score_correlation(names, pairs, 1.0)
        if pairs:
            _check_definite(names, pairs, correlation)
        return cls(names, correlation)

    def correlate(self, z: Values) -> Values:
        """Correlated scores from independent ones [..., d]. A score without dependence passes unchanged."""
        correlated = z.copy()
        for row, weights in enumerate(self._root):
            if np.any(weights[:row]):
                correlated[..., row] = z[..., : row + 1] @ weights[: row + 1]
        return correlated

    def independent(self, z: Values) -> Values:
        """Independent scores behind correlated ones [..., d]: the way back from `correlate`."""
        return np.asarray(np.linalg.solve(self._root, z[..., np.newaxis])[..., 0])

    def conditional(self, j: int) -> Conditional:
        """Score j given all the others, from the inverse of the correlation matrix."""
        precision = np.linalg.inv(self.correlation)
        weights = -np.delete(precision[j], j) / precision[j, j]
        return Conditional(weights + 0.0, 1.0 / math.sqrt(precision[j, j]))


def _check_pairs(names: tuple[str, ...], pairs: Mapping[tuple[str, str], float]) -> None:
    seen: set[frozenset[str]] = set()
    for (first, second), rho in pairs.items():
        for name in (first, second):
            near = difflib.get_close_matches(name, names, n=1)
            hint = f"{name!r}" + (f" (did you mean {near[0]!r}?)" if near else "")
            expect(name in names, "the names of two uncertain numbers", hint)
        between = f"between {first} and {second}"
        expect(first != second, "two different uncertain numbers", f"{first} twice")
        expect(frozenset((first, second)) not in seen, f"one rank correlation {between}", "two")
        expect(-1.0 < rho < 1.0, f"a rank correlation between -1 and 1, both excluded, {between}", rho)
        seen.add(frozenset((first, second)))


def _score_correlation(names: tuple[str, ...], pairs: Mapping[tuple[str, str], float], factor: float) -> Values:
    """Correlation matrix of the normal scores, every rank correlation multiplied by the factor."""
    matrix = np.eye(len(names))
    for (first, second), rho in pairs.items():
        i, j = names.index(first), names.index(second)
        matrix[i, j] = matrix[j, i] = 2.0 * math.sin(math.pi * factor * rho / 6.0)
    return matrix


def _check_definite(names: tuple[str, ...], pairs: Mapping[tuple[str, str], float], correlation: Values) -> None:
    """Refuse correlations that cannot hold at once, naming the pairs at fault and a factor that would do."""
    eigenvalues, vectors = np.linalg.eigh(correlation)
    if eigenvalues[0] > SMALLEST_EIGENVALUE:
        return
    part = dict(zip(names, np.abs(vectors[:, 0]) > 1e-6, strict=True))
    at_fault = [f"{a} and {b} ({rho:g})" for (a, b), rho in pairs.items() if part[a] and part[b]]
    factor = next(
        percent / 100.0
        for percent in range(99, -1, -1)
        if np.linalg.eigvalsh(_score_correlation(names, pairs, percent / 100.0))[0] > SMALLEST_EIGENVALUE
    )
    raise ParameterError(
        "rank correlations that can all hold at once (a positive definite matrix)",
        f"a smallest eigenvalue of {eigenvalues[0]:.3g} from {'; '.join(at_fault)}: "
        f"multiplied by {factor:g} they would do",
    )
