"""Dependence between uncertain numbers, by rank correlations: a Gaussian copula, and pairs with tails of their own.

A pair with a tail of its own (`pair_tails`) has a *hub* h and a *member* m. Behind its scores stand normal ones g with
the correlations of the copula: g_h = z_h, and with r the correlation of g_h and g_m

    e = (g_m - r g_h)/sqrt(1 - r^2),        z_m = the score whose inner score given z_h is e.

So the pair is exactly of its family, every other pair of scores exactly normal but for those of the member, and given
the hub the member goes with the others as the normal scores would: a vine in which the pair stands first. The hub is
the number of the two that more is stated of; where nothing else is stated of the member, all pairs are exact.
Source: pair-copula construction (Aas, Czado, Frigessi & Bakken 2009, Insur. Math. Econ. 44, 182; from memory,
unverified); the tests hold it against double integrals.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from overbank.uncertain.checks import ParameterError, expect
from overbank.uncertain.completion import completed
from overbank.uncertain.conditioning import Given, NormalGiven, PairGiven, TabulatedGiven
from overbank.uncertain.pair_tails import Pair, Tail, pair_of
from overbank.uncertain.scores import Values

AT_ONCE = 1 << 12
"""Samples whose density without a closed form is tabulated at a time."""


@dataclass(frozen=True, eq=False)
class Conditional:
    """One normal score given all the others, in their order: z_j ~ N(rest @ weights, spread^2)."""

    weights: Values
    spread: float


@dataclass(frozen=True)
class TailPair:
    """Two numbers, by their columns, that depend on each other in a family of their own."""

    hub: int
    member: int
    tail: Tail
    pair: Pair


@dataclass(frozen=True, eq=False)
class Copula:
    """Gaussian copula, standard normal scores with a correlation matrix; and pairs with tails of their own.

    Parameters
    ----------
    names : one for each uncertain number
    correlation : of the normal scores, or of those behind them where a pair has its own tail [d, d], positive definite
    tails : the pairs; none is the member of two, nor hub of one and member of another
    """

    names: tuple[str, ...]
    correlation: Values
    tails: tuple[TailPair, ...] = ()
    _root: Values = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_root", np.linalg.cholesky(self.correlation))

    @classmethod
    def from_rank_correlations(
        cls,
        names: Sequence[str],
        pairs: Mapping[tuple[str, str], float],
        tails: Mapping[tuple[str, str], Tail] | None = None,
        hub: str = "",
    ) -> Copula:
        """Copula with these Spearman rank correlations; pairs not named by the greatest determinant (`completion`).

        Normal scores with correlation r have the rank correlation (6/pi) asin(r/2), so r = 2 sin(pi rho/6).
        Source: Pearson 1907; from memory; the tests hold it against samples.

        Parameters
        ----------
        tails : families of pairs that have a rank correlation; "gaussian" where a pair is not named
        hub : a number that is the hub of its pairs whatever else is stated

        Raises
        ------
        ValueError, "expected ..., got ...", for an unknown name, a pair given twice or with itself,
        |rho| >= 1, correlations that cannot all hold at once (not positive definite), or tails that do not go together.
        """
        names = tuple(names)
        expect(len(set(names)) == len(names), "names that all differ", ", ".join(names))
        _check_pairs(names, pairs)
        return cls(names, _completed(names, pairs), _tail_pairs(names, pairs, tails or {}, hub))

    def correlate(self, z: Values) -> Values:
        """Correlated scores from independent ones [..., d]. A score without dependence passes unchanged."""
        correlated = z.copy()
        for row, weights in enumerate(self._root):
            if np.any(weights[:row]):
                correlated[..., row] = z[..., : row + 1] @ weights[: row + 1]
        return self._from_normal(correlated)

    def independent(self, z: Values) -> Values:
        """Independent scores behind correlated ones [..., d]: the way back from `correlate`."""
        return np.asarray(np.linalg.solve(self._root, self.normal(z)[..., np.newaxis])[..., 0])

    def normal(self, z: Values) -> Values:
        """The jointly normal scores that stand behind the scores [..., d]; the same where no pair has its own tail."""
        found = z.copy() if self.tails else z
        for each in self.tails:
            r = float(self.correlation[each.hub, each.member])
            inner = each.pair.inner(z[..., each.member], z[..., each.hub])
            found[..., each.member] = r * z[..., each.hub] + math.sqrt(1.0 - r**2) * inner
        return found

    def _from_normal(self, g: Values) -> Values:
        """The way back from `normal`."""
        found = g.copy() if self.tails else g
        for each in self.tails:
            r = float(self.correlation[each.hub, each.member])
            inner = (g[..., each.member] - r * g[..., each.hub]) / math.sqrt(1.0 - r**2)
            found[..., each.member] = each.pair.outer(inner, g[..., each.hub])
        return found

    def conditional(self, j: int) -> Conditional:
        """Score j given all the others, from the inverse of the correlation matrix; of jointly normal scores only."""
        if self.tails:
            raise ValueError("expected jointly normal scores, got pairs with tails of their own: ask for `given`")
        return self._regression(j)

    @cached_property
    def _precision(self) -> Values:
        """Inverse of the correlations, found once: of hundreds of numbers it takes a fifth of a second."""
        return np.asarray(np.linalg.inv(self.correlation))

    def _regression(self, j: int) -> Conditional:
        """Normal score j given all the others, those behind pairs with tails of their own."""
        own = self._precision[j]
        weights = -np.delete(own, j) / own[j]
        return Conditional(weights + 0.0, 1.0 / math.sqrt(own[j]))

    def given(self, j: int, z: Values) -> Given:
        """Score j given the others of every sample [..., d], whose own column j does not matter."""
        of_hub = [each for each in self.tails if each.hub == j]
        if of_hub:
            if self.tabulated(j):
                return self._tabulated(j, z)
            partner = of_hub[0]
            return PairGiven(np.zeros(z.shape[:-1]), 1.0, z[..., partner.member], partner.pair)
        regression = self._regression(j)
        filled = z.copy()
        filled[..., j] = 0.0
        mean, spread = np.delete(self.normal(filled), j, axis=-1) @ regression.weights, regression.spread
        for each in self.tails:
            if each.member == j:
                r = float(self.correlation[each.hub, j])
                own = math.sqrt(1.0 - r**2)
                return PairGiven((mean - r * z[..., each.hub]) / own, spread / own, z[..., each.hub], each.pair)
        return NormalGiven(mean, spread)

    def tabulated(self, j: int) -> bool:
        """Whether what the others say of score j has no closed form: some hundred numbers a sample."""
        of_hub = [each for each in self.tails if each.hub == j]
        return bool(of_hub) and self._lone_partner(of_hub) is None

    def moved(self, z: Values, j: int, score: Values | float) -> Values:
        """The samples had score j been another one: all others go along, each as far out given score j as it was.

        Parameters
        ----------
        z : scores [..., d]
        score : of the number j, shape [...] or a single one
        """
        g, score = self.normal(z), np.broadcast_to(np.asarray(score, dtype=np.float64), z.shape[:-1])
        own = next((each for each in self.tails if each.member == j), None)
        if own is None:
            columns, change = [j], (score - g[..., j])[..., np.newaxis]
        else:
            r = float(self.correlation[own.hub, j])
            hub = own.pair.outer(own.pair.inner(z[..., own.hub], z[..., j]), score)
            member = r * hub + math.sqrt(1.0 - r**2) * own.pair.inner(score, hub)
            columns, change = [own.hub, j], np.stack([hub - g[..., own.hub], member - g[..., j]], axis=-1)
        along = np.linalg.solve(self.correlation[np.ix_(columns, columns)], self.correlation[columns])
        found = self._from_normal(g + change @ along)
        found[..., j] = score
        return found

    def redrawn(self, z: Values, fresh: Sequence[int], independent: Values) -> Values:
        """The samples with some numbers drawn anew *given the others*: of another flood at the same site, say.

        Parameters
        ----------
        z : scores [..., d]
        fresh : columns drawn anew
        independent : independent normal scores to draw them from, shape [..., len(fresh)]

        Raises
        ------
        ValueError : where the hub of a pair is drawn anew, its member is not, and more is stated of either
        """
        fresh = list(fresh)
        turned = Copula(self.names, self.correlation, tuple(self._hub_kept(each, fresh) for each in self.tails))
        kept = [column for column in range(len(self.names)) if column not in fresh]
        g, r = turned.normal(z).copy(), self.correlation
        weights = np.linalg.solve(r[np.ix_(kept, kept)], r[np.ix_(kept, fresh)])
        spread = np.linalg.cholesky(r[np.ix_(fresh, fresh)] - r[np.ix_(fresh, kept)] @ weights)
        g[..., fresh] = g[..., kept] @ weights + independent @ spread.T
        return turned._from_normal(g)

    def _hub_kept(self, pair: TailPair, fresh: list[int]) -> TailPair:
        """The pair turned about where its hub is drawn anew and its member is not: it is the same either way."""
        if pair.hub not in fresh or pair.member in fresh:
            return pair
        alone = self._lone_partner([each for each in self.tails if each.hub == pair.hub]) is not None
        names = f"{self.names[pair.hub]} and {self.names[pair.member]}"
        expect(alone, f"nothing but the one dependence stated of {names}", "more, with a tail of its own")
        return TailPair(pair.member, pair.hub, pair.tail, pair.pair)

    def part(self, columns: Sequence[int]) -> Copula:
        """The dependence of some of the numbers. A pair of which one is left out leaves the other its normal score.

        Exact where nothing is stated of that other one but the pair.
        """
        place = {column: new for new, column in enumerate(columns)}
        kept = [each for each in self.tails if each.hub in place and each.member in place]
        tails = tuple(TailPair(place[each.hub], place[each.member], each.tail, each.pair) for each in kept)
        return Copula(tuple(self.names[c] for c in columns), self.correlation[np.ix_(columns, columns)], tails)

    def _lone_partner(self, of_hub: list[TailPair]) -> TailPair | None:
        """The hub's only partner, where neither of the two has to do with any other number."""
        if len(of_hub) > 1:
            return None
        both = [of_hub[0].hub, of_hub[0].member]
        others = np.delete(self.correlation[both], both, axis=1)
        return None if np.any(others != 0.0) else of_hub[0]

    def _tabulated(self, j: int, z: Values) -> TabulatedGiven:
        """A hub given the others: density in proportion to phi(g) times, for each of its members, c exp(e^2/2)."""
        flat, tried = z.reshape(-1, z.shape[-1]), TabulatedGiven.scores()
        parts = []
        for start in range(0, len(flat), AT_ONCE):
            some = flat[start : start + AT_ONCE]
            g = np.repeat(self.normal(some)[:, np.newaxis], tried.size, axis=1)
            g[..., j] = tried
            log_slopes = np.zeros(g.shape[:2])
            for each in self.tails:
                if each.hub == j:
                    member, r = some[:, [each.member]], float(self.correlation[j, each.member])
                    inner = each.pair.inner(member, tried)
                    g[..., each.member] = r * tried + math.sqrt(1.0 - r**2) * inner
                    log_slopes += each.pair.log_density(member, tried) + 0.5 * inner**2
            parts.append(log_slopes - 0.5 * np.sum((g @ self._precision) * g, axis=-1))
        return TabulatedGiven.of(np.concatenate(parts).reshape(*z.shape[:-1], tried.size))


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


def _completed(names: tuple[str, ...], pairs: Mapping[tuple[str, str], float]) -> Values:
    """Correlations with the pairs not named filled in, or a refusal that names the pairs at fault and a factor."""
    whole = np.eye(len(names))
    used = sorted({names.index(name) for pair in pairs for name in pair})
    if not used:
        return whole
    some = tuple(names[i] for i in used)
    free = _score_correlation(some, dict.fromkeys(pairs, 1.0), 1.0) == 0.0
    found, share = completed(lambda factor: _score_correlation(some, pairs, factor), free)
    if share < 1.0:
        raise _cannot_hold(some, pairs, found, share)
    whole[np.ix_(used, used)] = found
    return whole


def _cannot_hold(
    names: tuple[str, ...], pairs: Mapping[tuple[str, str], float], found: Values, share: float
) -> ParameterError:
    eigenvalues, vectors = np.linalg.eigh(found)
    part = dict(zip(names, np.abs(vectors[:, 0]) > 1e-6, strict=True))
    at_fault = [f"{a} and {b} ({rho:g})" for (a, b), rho in pairs.items() if part[a] and part[b]]
    return ParameterError(
        "rank correlations that can all hold at once (a positive definite matrix)",
        f"a smallest eigenvalue of {eigenvalues[0]:.3g} from {'; '.join(at_fault)}: "
        f"multiplied by {math.floor(100.0 * share) / 100.0:g} they would do",
    )


def _tail_pairs(
    names: tuple[str, ...],
    pairs: Mapping[tuple[str, str], float],
    tails: Mapping[tuple[str, str], Tail],
    first_hub: str,
) -> tuple[TailPair, ...]:
    """The pairs with a tail of their own; the hub of each is the one of which more is stated."""
    own = {pair: tail for pair, tail in tails.items() if tail != "gaussian"}
    for first, second in own:
        expect((first, second) in pairs, f"a rank correlation between {first} and {second}", "a tail without one")
    counts = {name: (sum(name in pair for pair in own), sum(name in pair for pair in pairs)) for name in names}
    found = []
    for (first, second), tail in own.items():
        turned = second == first_hub or (first != first_hub and counts[second] > counts[first])
        hub, member = (second, first) if turned else (first, second)
        found.append(TailPair(names.index(hub), names.index(member), tail, pair_of(tail, pairs[first, second])))
    hubs, members = {each.hub for each in found}, [each.member for each in found]
    together = len(set(members)) == len(members) and not hubs & set(members)
    words = ", ".join(f"{first} and {second}" for first, second in own)
    expect(together, "pairs with tails of their own that have no number in common, or all the same one", words)
    return tuple(found)
