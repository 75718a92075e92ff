"""A formula fitted to the model: polynomial chaos, a second route to the indices and something to print.

The output is a sum of products of orthonormal polynomials, one for each input,

    y = sum over terms of c_t prod_j h_{t_j}(x_j),

so that the squared coefficients are the parts of the variance: first-order and total indices are read off them. The
polynomials are Hermite's in the normal score z of an input (good for long tails) or Legendre's in its probability
u = Phi(z) (good for inputs with ends): whichever foretells unseen samples better.

It smooths over the kinks of a model, changes of regime and overtopping, that decide rare events. So it never stands in
for the model here: it says how far it is off on samples that it has not seen, and gives its own indices.

Source: Sudret, Reliab. Eng. Syst. Saf. 93 (2008) 964, for the indices (from memory, unverified); polynomials and
indices by chaospy, least squares by NumPy. The tests compare with closed forms and with the crossed samples of
`sensitivity`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtr

from overbank.analysis.intervals import Array
from overbank.analysis.outputs import refuse_constant, usable_rows
from overbank.analysis.sensitivity import DEPENDENT
from overbank.errors import DomainError

HERMITE, LEGENDRE = "Hermite polynomials of the normal score", "Legendre polynomials of the probability"

UNSEEN = 4
"""One sample in so many is kept back, to try the formula on."""

SAMPLES_A_TERM = 2
"""Fewer samples than this for each coefficient fit noise (common practice)."""

PIECE = 1 << 14
"""Samples that the formula is worked out for at a time."""


@dataclass(frozen=True)
class Surrogate:
    """The fitted formula.

    names : of the inputs
    order : greatest degree of a term
    basis : which polynomials, in words
    degrees : of each input's polynomial in each term, shape (terms, d)
    coefficients : shape (terms,)
    indices : one row an input: input, first, total
    q2 : share of the variance of unseen samples that the formula foretells; 1 when it is exact
    rmse : root of its mean squared error on them, in the unit of the output
    trained, unseen : samples fitted to and kept back
    """

    names: tuple[str, ...]
    order: int
    basis: str
    degrees: NDArray[np.intp]
    coefficients: Array
    indices: pd.DataFrame
    q2: float
    rmse: float
    trained: int
    unseen: int

    def predict(self, scores: Array) -> Array:
        """The formula's output for independent normal scores (M, d), shape (M,)."""
        pieces = [scores[start : start + PIECE] for start in range(0, len(scores), PIECE)]
        return np.concatenate([_terms(self.basis, self.degrees, piece) @ self.coefficients for piece in pieces])

    def formula(self, output: str, terms: int = 8) -> str:
        """The formula in plain text: its largest terms, what they leave out, and what the polynomials are."""
        parts = self.coefficients**2
        varying = np.any(self.degrees > 0, axis=1)
        order = [t for t in np.argsort(-parts, kind="stable") if varying[t]]
        constant = float(self.coefficients[~varying][0])
        lines = [f"{output} = {constant:.4g}", *(self._term(t) for t in order[:terms])]
        rest = order[terms:]
        if rest:
            share = float(np.sum(parts[rest]) / np.sum(parts[varying]))
            lines.append(f"    and {len(rest)} smaller terms, {share:.2g} of the variance")
        highest = int(self.degrees[order[:terms]].max(initial=0))
        return "\n".join([*lines, *_polynomials(self.basis, highest)])

    def _term(self, t: int) -> str:
        coefficient = self.coefficients[t]
        factors = " ".join(f"h{int(n)}({name})" for name, n in zip(self.names, self.degrees[t], strict=True) if n)
        return f"    {'-' if coefficient < 0 else '+'} {abs(coefficient):.4g} {factors}"


def fit(scores: Array, outputs: Array, names: Sequence[str], order: int) -> Surrogate:
    """Fit the formula to the first three quarters of the samples, and try it on the last.

    Parameters
    ----------
    scores : independent normal scores, before any dependence between inputs is put in; shape (M, d), replicate after
        replicate, so that the last quarter is a design of its own
    outputs : of the model, shape (M,); nan is a failed run, left out
    names : of the d inputs
    order : greatest degree of a term, 1 or more; a formula of order p in d inputs has (d + p)! / (d! p!) terms

    Raises
    ------
    DomainError : fewer than two samples a term; dependent scores; more than 1 % failed; infinite or constant outputs
    """
    usable = usable_rows(outputs[np.newaxis, np.newaxis, :], "surrogate")[0]
    z, y = scores[usable], outputs[usable]
    refuse_constant([y], "surrogate")
    _check(z, order, len(names))
    trained = len(y) - len(y) // UNSEEN
    best = min((_fitted(z, y, trained, order, basis) for basis in (HERMITE, LEGENDRE)), key=lambda found: found[0])
    rmse, basis, expansion, coefficients = best
    return Surrogate(
        names=tuple(names),
        order=order,
        basis=basis,
        degrees=_degrees(expansion),
        coefficients=coefficients,
        indices=_indices(expansion, coefficients, names),
        q2=1.0 - rmse**2 / float(np.var(y[trained:])),
        rmse=rmse,
        trained=trained,
        unseen=len(y) - trained,
    )


def _check(scores: Array, order: int, inputs: int) -> None:
    if order < 1 or scores.shape[1] != inputs:
        raise DomainError(
            f"surrogate: expected an order of 1 or more and scores of {inputs} inputs; got order {order} and "
            f"{scores.shape[1]} columns"
        )
    terms = int(np.prod([(inputs + k) / k for k in range(1, order + 1)]) + 0.5)
    if len(scores) * (1.0 - 1.0 / UNSEEN) < SAMPLES_A_TERM * terms:
        raise DomainError(
            f"surrogate: a formula of order {order} in {inputs} inputs has {terms} terms and needs "
            f"{int(np.ceil(SAMPLES_A_TERM * terms / (1.0 - 1.0 / UNSEEN)))} samples; got {len(scores)}. Lower the "
            "order or take more samples"
        )
    observed = np.atleast_2d(np.corrcoef(scores, rowvar=False)) - np.eye(inputs)
    if np.max(np.abs(observed)) > DEPENDENT:
        raise DomainError(
            "surrogate: expected independent scores; got columns with a sample correlation of "
            f"{observed.flat[np.argmax(np.abs(observed))]:.2f}. Give the scores before correlating them"
        )


def _fitted(z: Array, y: Array, trained: int, order: int, basis: str) -> tuple[float, str, Any, Array]:
    """Error on the unseen samples, basis, expansion and coefficients."""
    import chaospy  # here: its import takes more than a second

    expansion = chaospy.generate_expansion(order, chaospy.Iid(_distribution(basis), z.shape[1]), normed=True)
    terms = _terms(basis, _degrees(expansion), z)
    seen = terms[:trained]
    coefficients = np.linalg.solve(seen.T @ seen, seen.T @ y[:trained])  # nearly orthonormal: safe, and quick
    missed = y[trained:] - terms[trained:] @ coefficients
    return float(np.sqrt(np.mean(missed**2))), basis, expansion, np.asarray(coefficients, dtype=np.float64)


def _distribution(basis: str) -> Any:
    import chaospy

    return chaospy.Normal(0.0, 1.0) if basis == HERMITE else chaospy.Uniform(0.0, 1.0)


def _degrees(expansion: Any) -> NDArray[np.intp]:
    """Degree of each input's polynomial in each term, shape (terms, d): the exponents of its leading monomial."""
    exponents = np.asarray(expansion.exponents).astype(np.intp)
    total = np.where(np.asarray(expansion.coefficients).T != 0.0, exponents.sum(axis=1), -1)
    return np.asarray(exponents[np.argmax(total, axis=1)])


def _terms(basis: str, degrees: NDArray[np.intp], scores: Array) -> Array:
    """Every term without its coefficient, shape (M, terms), as products of polynomials of one input.

    Worked out as polynomials of all inputs together the terms would take a hundred times as long.
    """
    import chaospy

    single = chaospy.generate_expansion(int(degrees.max()), _distribution(basis), normed=True)
    terms = np.ones((len(scores), len(degrees)))
    for points, degree in zip((scores if basis == HERMITE else ndtr(scores)).T, degrees.T, strict=True):
        terms *= np.asarray(single(points))[degree].T
    return terms


def _indices(expansion: Any, coefficients: Array, names: Sequence[str]) -> pd.DataFrame:
    import chaospy

    first = chaospy.FirstOrderSobol(expansion, coefficients)
    total = chaospy.TotalOrderSobol(expansion, coefficients)
    return pd.DataFrame({"input": list(names), "first": first, "total": total})


def _polynomials(basis: str, highest: int) -> list[str]:
    """What the polynomials are, a line each."""
    lines = [f"h1, h2, ...: {basis} of an input, orthonormal"]
    letter = "z" if basis == HERMITE else "u"
    for degree in range(1, highest + 1):
        if basis == HERMITE:
            powers = np.polynomial.HermiteE.basis(degree).convert(kind=np.polynomial.Polynomial).coef
            powers = powers / np.sqrt(float(np.prod(np.arange(1, degree + 1))))
        else:
            shifted = np.polynomial.Legendre.basis(degree, domain=[0.0, 1.0])
            powers = shifted.convert(kind=np.polynomial.Polynomial).coef * np.sqrt(2.0 * degree + 1.0)
        lines.append(f"    h{degree} = {_in_words(powers, letter)}")
    return lines


def _in_words(powers: Array, letter: str) -> str:
    """A polynomial from its coefficients, constant first, in plain text."""
    words: list[str] = []
    for power, coefficient in reversed(list(enumerate(powers))):
        if abs(coefficient) < 1e-12:
            continue
        sign = "-" if coefficient < 0 else "+" if words else ""
        what = "" if power == 0 else letter if power == 1 else f"{letter}^{power}"
        number = "" if what and abs(coefficient) == 1.0 else f"{abs(coefficient):.4g}"
        words.append(" ".join(part for part in (sign, number, what) if part))
    return " ".join(words)
