"""What screens of one kind have in common: a prior for one of them, learnt from the looks at the others.

Each screen has its own chances of nothing, a part and everything blocked, drawn from one Dirichlet distribution with
worths w; its looks n then have the marginal likelihood

    ln L(n) = ln G(W) - ln G(W + N) + sum over k of ln G(w_k + n_k) - ln G(w_k),      W = sum w, N = sum n

and the w that make the looks at all screens likeliest are the prior for the next one: alike screens give a large W, so
that a screen with few looks borrows much, unlike ones a small W. With two outcomes this is the beta-binomial.

Source: empirical Bayes of the beta-binomial, Gelman and others, Bayesian Data Analysis, chapter 5 (from memory,
unverified); held against its 70 rat experiments. The starting point stands among the screens as one more: own proposal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import gammaln

from overbank.uncertain.checks import expect
from overbank.uncertain.scores import Values, as_values

MOST = 1000.0
"""So many looks a pooled prior is worth at the most: screens that do not differ in the record would make it endless."""

LEAST = 0.02
"""The least that any of the worths is."""

FEWEST = 3
"""Other screens that a pooled prior needs (own proposal)."""


@dataclass(frozen=True)
class Pooled:
    """A prior from other screens.

    worths : looks that its chances of nothing, a part and everything blocked are worth
    screens : from which it comes
    log_likelihood : of their looks
    """

    worths: tuple[float, ...]
    screens: int
    log_likelihood: float

    @property
    def alike(self) -> bool:
        """Whether the record cannot tell the screens apart, so that the worth is only the most that is allowed."""
        return sum(self.worths) > 0.95 * MOST


def log_likelihood(worths: Values, counts: Values) -> float:
    """ln L of counts (J, K) of outcomes at J screens, without the factor that holds no worth."""
    whole, looks = worths.sum(), counts.sum(axis=1)
    each = gammaln(whole) - gammaln(whole + looks) + np.sum(gammaln(worths + counts) - gammaln(worths), axis=1)
    return float(np.sum(each))


def likeliest(counts: Values) -> Pooled:
    """The worths that make the counts (J, K) of all screens likeliest.

    Raises
    ------
    ParameterError : counts of fewer than two screens
    """
    expect(len(counts) >= 2, "looks at two screens at least", len(counts))
    shares = (counts.sum(axis=0) + 0.5) / (counts.sum() + 0.5 * counts.shape[1])

    def worths(step: Values) -> Values:
        whole = np.exp(np.clip(step[-1], np.log(LEAST), np.log(MOST)))
        odds = np.exp(np.clip(np.append(step[:-1], 0.0), -30.0, 30.0))
        return as_values(np.maximum(whole * odds / odds.sum(), LEAST))

    starts = [np.append(np.log(shares[:-1] / shares[-1]), np.log(whole)) for whole in (2.0, 20.0, 200.0)]
    settings = {"xatol": 1e-9, "fatol": 1e-11, "maxiter": 8000, "maxfev": 8000}
    found = [
        minimize(lambda step: -log_likelihood(worths(step), counts), start, method="Nelder-Mead", options=settings)
        for start in starts
    ]
    best = min(found, key=lambda each: each.fun)
    return Pooled(tuple(worths(best.x).tolist()), len(counts), -float(best.fun))


def shared_prior(counts: Values, starting: Values) -> Pooled:
    """The prior from other screens' counts (J, 3), the starting point, as counts (3,), standing among them as one more.

    Raises
    ------
    ParameterError : looks at too few other screens
    """
    seen = counts[counts.sum(axis=1) > 0.0]
    expect(len(seen) >= FEWEST, f"usable looks at {FEWEST} others of its kind at least, to pool with", len(seen))
    found = likeliest(np.vstack([seen, starting]))
    return Pooled(found.worths, len(seen), found.log_likelihood)
