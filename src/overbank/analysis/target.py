"""Which inputs drive the event of overtopping: Sobol' indices of the event itself, without counting events.

The event is {S >= s*(X)}: the integrated input S, independent of all other inputs X, at or above its critical value.
From the conditional probabilities p = P(S >= s* | X) of crossed samples of X, with P = E[p] and the variance of
the event V = P (1 - P):

    first order of X_i   Var(E[p | X_i]) / V
    total of X_i         E|p_A - p_A_i| / 2V, because two events that share the value of S are nested: exactly
                         one of them happens with probability |p_A - p_A_i|
    first order of S     (E[min(p_A, p_B)] - P^2) / V: both happen for the same S with probability min(p_A, p_B)
    total of S           E[p (1 - p)] / V

All are means of smooth numbers: a rare event costs no accuracy of counting. As an event gets rare every first
order tends to 0 and every total to 1: everything is then needed at once, and a small first-order index does
*not* mean that an input is unimportant.

Source: derived here; the tests compare with closed forms.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from overbank.analysis.intervals import Array
from overbank.analysis.outputs import heavy_tail, refuse_no_event, refuse_too_rare, usable_rows
from overbank.analysis.sensitivity import DUMMY, Indices
from overbank.analysis.shares import columns, of_replicates
from overbank.errors import DomainError


def target_indices(probabilities: Array, names: Sequence[str], integrated: str, dummy: bool = True) -> Indices:
    """First-order and total indices of the event, of all inputs, with 95 % intervals.

    The dummy row is what sampling noise alone gives an input that does nothing.

    Parameters
    ----------
    probabilities : p in the order of `sensitivity.blocks` over all inputs *but the integrated input*, shape
        (R, d + 1, n); nan is a failed sample. Where a ladder cannot be trusted give nan, not a plain 0 or 1:
        events that do not share S are not nested
    names : of all d inputs, the integrated input among them; the others in the order of the blocks
    integrated : name of the integrated input, which must not depend on any other
    dummy : add the noise floor

    Raises
    ------
    DomainError : more than 1 % of rows failed; p outside 0 to 1; an event that never or always
        happens, or of which one sample carries more than a tenth
    """
    if integrated not in names:
        raise DomainError(f"target indices: expected an integrated input among {', '.join(names)}; got {integrated!r}")
    if probabilities.ndim != 3 or probabilities.shape[1] != len(names) + 1:
        raise DomainError(
            f"target indices: expected probabilities of shape (replicates, {len(names) + 1}, samples) for "
            f"{len(names)} inputs, one of which is integrated out; got {probabilities.shape}"
        )
    usable = usable_rows(probabilities, "target indices")
    kept = [table[:, rows] for table, rows in zip(probabilities, usable, strict=True)]
    pairs = [table[:2] for table in kept]
    both = np.concatenate(pairs, axis=1)
    refuse_no_event(both, "target indices")
    refuse_too_rare(both, "target indices")
    chance = float(np.mean(both))
    parts = np.array([_parts(table, chance) for table in kept])
    wholes = np.array([_variance(pair, chance) for pair in pairs])
    figures = of_replicates(parts, wholes)
    order = [*(name for name in names if name != integrated), integrated, *([DUMMY] if dummy else [])]
    row = {name: figures[:, :, place] for place, name in enumerate(order)}
    table = pd.DataFrame(
        [
            {"input": name, **columns("first", row[name][:, 0]), **columns("total", row[name][:, 1])}
            for name in ([*names, DUMMY] if dummy else names)
        ]
    )
    return Indices(table, usable.size, int(np.count_nonzero(~usable)), heavy_tail(pairs))


def _variance(p: Array, chance: float) -> float:
    """Variance of the event about its overall chance, from one replicate: linear in p, so without bias."""
    return float(np.mean(p) * (1.0 - 2.0 * chance) + chance**2)


def _parts(p: Array, chance: float) -> Array:
    """Variances that first-order and total indices are shares of; others, integrated input, dummy: shape (2, d + 1)."""
    A, B, mixed = p[0], p[1], p[2:]
    both_apart = np.mean((A - chance) * (B - chance))
    first = np.mean((B - chance) * (mixed - A), axis=1)
    total = 0.5 * np.mean(np.abs(mixed - A), axis=1)
    integrated_first = np.mean(np.minimum(A, B) - A * B)
    integrated_total = np.mean(p[:2] * (1.0 - p[:2]))
    shortfall = _variance(p[:2], chance) - _variance(A, chance)
    return np.array([[*first, integrated_first, both_apart], [*total, integrated_total, shortfall]])
