"""Flood families fitted by the likelihood of a whole record, what is not known of them, and their average.

ln L = sum ln f(known flows) + sum n ln F(bound) of years below one + sum n ln(1 - F(bound)) of floods above one.

Peaks over a threshold u in T years: floods over q come at the rate -ln F(q), so that f / F stands in place of f, and
T ln F(u) tells that there were no others.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np
from scipy import stats
from scipy.optimize import minimize
from scipy.special import ndtri

from overbank.uncertain import l_moments
from overbank.uncertain.averaged import Averaged
from overbank.uncertain.checks import expect
from overbank.uncertain.distributions import Distribution
from overbank.uncertain.extremes import values_of
from overbank.uncertain.fitting import FITTED, LEAST_YEARS, Curve, Fit
from overbank.uncertain.flood_record import FloodRecord, Peaks
from overbank.uncertain.floods import ALTERNATIVES, MOST_RECORDS, Floods
from overbank.uncertain.log_pearson import LogPearson3
from overbank.uncertain.scores import Values

AVERAGE, LOG_PEARSON = "average", "log_pearson3"
FAMILIES = (*FITTED, LOG_PEARSON)
"""Families that are averaged."""

WIDEST = {LOG_PEARSON: 3.0}
"""So far the shape may go, or the skew; 1 for the others."""

SKEWS = 0.05
"""Alternatives take a skew that is a multiple of this, so that few tables serve them all."""

PROPOSALS = 4 * ALTERNATIVES
FREEDOM = 5
"""Of Student's t, from which alternatives are proposed about the fit."""

LEAST_EFFECTIVE = 0.05
"""So large a share of the proposals must count."""

LEAST_WEIGHT = 0.001
"""A family with less is left out of the average."""


Record = FloodRecord | Peaks
"""What a fit is made to."""


@dataclass(frozen=True)
class LikelyFamily:
    """A family at the maximum of its likelihood.

    parameters : location, scale and shape, or mean, standard deviation and skew of log10
    log_likelihood, criterion : at the maximum; Akaike's criterion, corrected for few years
    weight : in the average
    """

    name: str
    parameters: tuple[float, float, float]
    log_likelihood: float
    criterion: float
    best: Distribution
    weight: float = 1.0


@dataclass(frozen=True)
class LikelyFit(Fit):
    """A fit by the likelihood of a whole record; `families` are those averaged, the likeliest first."""

    record: Record
    families: tuple[LikelyFamily, ...]

    @property
    def years(self) -> int:
        """Length of the record, the years before it included."""
        return self.record.years

    @property
    def plotting_positions(self) -> Values:
        """Annual probability at which each of the known flows is plotted."""
        return self.record.points()[1]


def log_likelihood(family: str, record: Record, parameters: Values) -> Values:
    """ln L of each of several sets of parameters [K, 3]; -infinite outside the range of the family."""
    density, below = _LAWS.get(family, _by_reduced(family))
    at = np.atleast_2d(parameters).T[..., np.newaxis]
    with np.errstate(all="ignore"):
        found = np.sum(density(record.exact, *at), axis=-1)
        if isinstance(record, Peaks):
            found = found - np.sum(below(record.exact, *at)[0], axis=-1)
        for bound, years in record.below:
            found = found + years * below(np.array([bound]), *at)[0][..., 0]
        for bound, floods in record.above:
            found = found + floods * below(np.array([bound]), *at)[1][..., 0]
    shape = np.atleast_2d(parameters)[:, 2]
    return np.where(np.isfinite(found) & (np.abs(shape) < WIDEST.get(family, 1.0)), found, -np.inf)


def fit_likeliest(family: str, record: Record, seed: int) -> Floods:
    """A family, or the average of all, fitted to a record, with alternatives drawn from the likelihood.

    Flat priors on location, ln scale and shape. Proposals about the maximum weigh by their likelihood. Families are
    weighted by exp(-D/2), D being what the corrected Akaike criterion exceeds the least by (Burnham and Anderson 2002,
    Model Selection, from memory, unverified), and the alternatives come from each in that proportion.

    Raises
    ------
    ValueError : too few known floods, or no maximum of the likelihood
    """
    found = likeliest(family, record)
    rng = np.random.default_rng(seed)
    counts = np.round(np.array([each.weight for each in found]) * ALTERNATIVES).astype(int)
    drawn = [one for each, count in zip(found, counts, strict=True) for one in _drawn(each, record, int(count), rng)]
    order = rng.permutation(len(drawn))
    best = best_of(found)
    moments = l_moments.l_moments(record.exact)
    fit = LikelyFit(family, "maximum_likelihood", record.exact, moments, best, record, found)
    words = f"{best.words}, fitted to {record.words} by maximum likelihood"
    return Floods(best, tuple(drawn[place] for place in order), words, fit, partial(_more, found, record, seed))


def _more(families: tuple[LikelyFamily, ...], record: Record, seed: int, probability: float) -> Values:
    """The flood of an annual probability in many distributions as likely as the record leaves them [m3/s]."""
    rng = np.random.default_rng([seed, 1])
    found = []
    for each in families:
        parameters = _parameters(each, record, round(each.weight * MOST_RECORDS), MOST_RECORDS, rng)
        if each.name == LOG_PEARSON:
            mean, sd, skew = parameters.T
            found.append(10.0 ** stats.pearson3.ppf(1.0 - probability, skew, loc=mean, scale=sd))
        else:
            assert isinstance(each.best, Curve)
            found.append(values_of(parameters, each.best.reduced(-ndtri(probability))))
    return np.concatenate(found)


@lru_cache(maxsize=16)
def likeliest(family: str, record: Record) -> tuple[LikelyFamily, ...]:
    """The family, or all of them with their weights, at the maximum of the likelihood."""
    expect(record.exact.size >= LEAST_YEARS, f"at least {LEAST_YEARS} known floods", record.exact.size)
    return tuple(averaged([_likeliest(name, record) for name in (FAMILIES if family == AVERAGE else (family,))]))


def best_of(families: tuple[LikelyFamily, ...]) -> Distribution:
    """The one family, or the average of several."""
    if len(families) == 1:
        return families[0].best
    return Averaged(tuple(each.best for each in families), tuple(each.weight for each in families))


def averaged(families: list[LikelyFamily]) -> list[LikelyFamily]:
    """The families with their weights, the likeliest first; those that hardly count are left out."""
    least = min(each.criterion for each in families)
    weights = [math.exp(-0.5 * (each.criterion - least)) for each in families]
    kept = [(w, each) for w, each in zip(weights, families, strict=True) if w >= LEAST_WEIGHT * sum(weights)]
    total = sum(w for w, _ in kept)
    kept.sort(key=lambda pair: -pair[0])
    return [
        LikelyFamily(each.name, each.parameters, each.log_likelihood, each.criterion, each.best, w / total)
        for w, each in kept
    ]


def criterion(log_likelihood: float, free: int, years: int) -> float:
    """Akaike's criterion, corrected for few years: 2k - 2 ln L + 2k(k + 1)/(n - k - 1)."""
    return 2.0 * free - 2.0 * log_likelihood + 2.0 * free * (free + 1) / (years - free - 1)


def _free(family: str) -> int:
    return 3 if family == LOG_PEARSON else FITTED[family].free


def _likeliest(family: str, record: Record) -> LikelyFamily:
    free, start = _free(family), _start(family, record)

    def loss(step: Values) -> float:
        return -float(log_likelihood(family, record, _moved(start, step, free))[0])

    settings = {"xatol": 1e-7, "fatol": 1e-9, "maxiter": 4000, "maxfev": 4000}
    found = minimize(loss, np.zeros(free), method="Nelder-Mead", options=settings)
    parameters = _moved(start, found.x, free)
    within = abs(parameters[2]) < 0.99 * WIDEST.get(family, 1.0)
    expect(bool(found.success) and within, f"floods whose likelihood by a {family} has a maximum", "none")
    value = -float(found.fun)
    told = tuple(float(each) for each in parameters)
    three = (told[0], told[1], told[2])
    return LikelyFamily(family, three, value, criterion(value, free, record.exact.size), _made(family, three))


def _start(family: str, record: Record) -> Values:
    """Parameters to begin with, from moments of the known flows."""
    if isinstance(record, Peaks):
        return _start_of_peaks(family, record)
    if family == LOG_PEARSON:
        logs = np.log10(record.exact)
        return np.array([logs.mean(), logs.std(ddof=1), float(np.clip(stats.skew(logs), -1.0, 1.0)) or 0.1])
    start = FITTED[family].from_moments(l_moments.l_moments(record.exact))
    start = np.asarray(start, dtype=np.float64).ravel()
    inside = np.isfinite(log_likelihood(family, record, start)[0])
    return start if inside else np.array([*start[:2], 0.0])


def _start_of_peaks(family: str, record: Peaks) -> Values:
    """The Gumbel distribution of annual maxima whose floods exceed the threshold by as much on average."""
    scale = float(np.mean(record.exact)) - record.threshold
    location = record.threshold + scale * math.log(record.rate)
    if family != LOG_PEARSON:
        return np.array([location, scale, 0.0])
    median, tenth = (math.log10(max(location - scale * math.log(-math.log(p)), 1e-4)) for p in (0.5, 0.9))
    return np.array([median, max(tenth - median, 0.01) / float(stats.norm.ppf(0.9)), 0.1])


def _moved(start: Values, step: Values, free: int) -> Values:
    """Parameters some steps away: the location in scales, the logarithm of the scale, the shape."""
    steps = np.zeros((*np.shape(step)[:-1], 3))
    steps[..., :free] = step
    parts = (start[0] + start[1] * steps[..., 0], start[1] * np.exp(steps[..., 1]), start[2] + steps[..., 2])
    return np.stack(parts, axis=-1)


def _made(family: str, parameters: tuple[float, float, float]) -> Distribution:
    if family != LOG_PEARSON:
        return FITTED[family].make(*parameters)
    mean, sd, skew = parameters
    return LogPearson3(mean, sd, skew if abs(skew) >= 0.01 else 0.0)


def _drawn(family: LikelyFamily, record: Record, count: int, rng: np.random.Generator) -> list[Distribution]:
    """Distributions as likely as the record leaves them."""
    parameters = _parameters(family, record, count, PROPOSALS, rng)
    if family.name == LOG_PEARSON:
        parameters[:, 2] = np.round(parameters[:, 2] / SKEWS) * SKEWS
    return [_made(family.name, (row[0], row[1], row[2])) for row in parameters.tolist()]


def _parameters(family: LikelyFamily, record: Record, count: int, proposals: int, rng: np.random.Generator) -> Values:
    """Parameters as likely as the record leaves them (K, 3): proposals about the best, drawn again by their weight."""
    free, best = _free(family.name), np.array(family.parameters)

    def at(steps: Values) -> Values:
        return log_likelihood(family.name, record, _moved(best, steps, free))

    spread = np.linalg.inv(_curvature(at, free))
    law = stats.multivariate_t(np.zeros(free), spread, df=FREEDOM, seed=rng)
    steps = np.reshape(law.rvs(proposals), (proposals, free))
    logs = at(steps) - law.logpdf(steps)
    weights = np.exp(logs - logs.max())
    effective = weights.sum() ** 2 / np.sum(weights**2)
    expect(
        effective >= LEAST_EFFECTIVE * proposals,
        f"a record that tells the parameters of a {family.name}",
        "one too short",
    )
    places = (rng.random() + np.arange(count)) / max(count, 1)
    chosen = np.minimum(np.searchsorted(np.cumsum(weights) / weights.sum(), places), proposals - 1)
    return _moved(best, steps[chosen], free)


def _curvature(at: Callable[[Values], Values], free: int) -> Values:
    """Second derivatives of -ln L at the maximum, by central differences."""
    step, eye = 1e-3, np.eye(free)
    pairs = [(i, j) for i in range(free) for j in range(free)]
    corners = [step * (a * eye[i] + b * eye[j]) for i, j in pairs for a in (1, -1) for b in (1, -1)]
    values = at(np.array(corners)).reshape(free, free, 4)
    found: Values = -(values[..., 0] - values[..., 1] - values[..., 2] + values[..., 3]) / (4.0 * step**2)
    lowest = float(np.linalg.eigvalsh(found)[0]) if np.all(np.isfinite(found)) else 0.0
    expect(lowest > 0.0, "floods whose likelihood has a maximum that is no edge", "an edge")
    return found


Density = Callable[..., Values]
Below = Callable[..., tuple[Values, Values]]


def _by_reduced(family: str) -> tuple[Density, Below]:
    """ln f, and ln F with ln(1 - F), of the families with y = -ln(1 - k u)/k (see `likelihood`)."""
    logistic = family == "generalised_logistic"

    def reduced(x: Values, location: Values, scale: Values, shape: Values) -> Values:
        u = (x - location) / scale
        straight = np.abs(shape) < 1e-9
        return np.where(straight, u, -np.log(1.0 - shape * u) / np.where(straight, 1.0, shape))

    def density(x: Values, location: Values, scale: Values, shape: Values) -> Values:
        y = reduced(x, location, scale, shape)
        tail = 2.0 * np.logaddexp(0.0, -y) if logistic else np.exp(-y)
        return np.asarray(-np.log(scale) - (1.0 - shape) * y - tail)

    def below(x: Values, location: Values, scale: Values, shape: Values) -> tuple[Values, Values]:
        y = reduced(x, location, scale, shape)
        end = (x - location) * np.sign(shape) > 0.0  # beyond the end of the family, where y is not known
        y = np.where(np.isnan(y), np.where(end, np.inf, -np.inf), y)
        if logistic:
            return -np.logaddexp(0.0, -y), -np.logaddexp(0.0, y)
        return -np.exp(-y), np.log(-np.expm1(-np.exp(-y)))

    return density, below


def _pearson_density(x: Values, mean: Values, sd: Values, skew: Values) -> Values:
    """ln of the density of the flow itself, not of its logarithm."""
    law = stats.pearson3(np.broadcast_to(skew, np.broadcast_shapes(skew.shape, x.shape)), loc=mean, scale=sd)
    return np.asarray(law.logpdf(np.log10(x)) - np.log(x * math.log(10.0)))


def _pearson_below(x: Values, mean: Values, sd: Values, skew: Values) -> tuple[Values, Values]:
    law = stats.pearson3(skew, loc=mean, scale=sd)
    return np.asarray(law.logcdf(np.log10(x))), np.asarray(law.logsf(np.log10(x)))


_LAWS: dict[str, tuple[Density, Below]] = {LOG_PEARSON: (_pearson_density, _pearson_below)}
"""ln f, and ln F with ln(1 - F), of families that have no reduced form."""
