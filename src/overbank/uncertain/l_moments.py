"""L-moments of samples, and the flood families that have given L-moments. Many samples of one length at a time.

The parameters are those of `overbank.uncertain.extremes`: location, scale and Hosking's shape k.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gamma, gammaln

from overbank.uncertain.checks import expect
from overbank.uncertain.scores import Values, as_values

SMALL = 1e-6
"""A shape nearer to 0 than this is taken as its limit, for the quotients below lose their digits there."""

LEAST_SHAPE = -0.999
"""A GEV with a shape of -1 or less has no mean."""


class LMoments(NamedTuple):
    """The first L-moments.

    mean : l1; scale : l2, half the expected difference of two values, both in the unit of the values
    skew, kurtosis : the ratios t3 = l3/l2 and t4 = l4/l2, between -1 and 1 [-]
    """

    mean: Values
    scale: Values
    skew: Values
    kurtosis: Values


def l_moments(samples: ArrayLike) -> LMoments:
    """Unbiased sample L-moments along the last axis, from probability-weighted moments.

    b_r = mean over the ordered values x_j of x_j (j-1)...(j-r) / ((n-1)...(n-r)); l2 = 2 b1 - b0,
    l3 = 6 b2 - 6 b1 + b0, l4 = 20 b3 - 30 b2 + 12 b1 - b0.

    Source: Hosking, J. R. Stat. Soc. B 52 (1990) 105. From memory, unverified; the tests compare with lmoments3.

    Raises
    ------
    ValueError : fewer than four values, or values that are all alike
    """
    ordered = np.sort(as_values(samples), axis=-1)
    n = ordered.shape[-1]
    expect(n >= 4, "at least 4 values", n)
    weight = np.ones(n)
    b = [ordered.mean(axis=-1)]
    for r in (1, 2, 3):
        weight = weight * np.maximum(np.arange(n) - r + 1, 0) / (n - r)
        b.append((ordered * weight).mean(axis=-1))
    scale = 2.0 * b[1] - b[0]
    expect(bool(np.all(scale > 0.0)), "values that differ", "values that are all alike")
    third = 6.0 * b[2] - 6.0 * b[1] + b[0]
    fourth = 20.0 * b[3] - 30.0 * b[2] + 12.0 * b[1] - b[0]
    return LMoments(b[0], scale, third / scale, fourth / scale)


def gumbel(moments: LMoments) -> Values:
    """Location, scale and shape 0 [..., 3]: scale = l2/ln 2, location = l1 - 0.5772 scale (closed form)."""
    scale = moments.scale / math.log(2.0)
    return np.stack([moments.mean - np.euler_gamma * scale, scale, np.zeros_like(scale)], axis=-1)


def generalised_logistic(moments: LMoments) -> Values:
    """Location, scale and shape [..., 3]: k = -t3; scale = l2 sin(k pi)/(k pi); location = l1 - scale a, where
    a = 1/k - pi/sin(k pi).

    Source: Hosking and Wallis 1997, Regional Frequency Analysis, appendix; from memory, unverified; compared with
    lmoments3 in the tests.
    """
    shape = -moments.skew
    small = np.abs(shape) < SMALL
    k = np.where(small, SMALL, shape)
    scale = moments.scale * np.where(small, 1.0, np.sin(k * math.pi) / (k * math.pi))
    away = np.where(small, -shape * math.pi**2 / 6.0, 1.0 / k - math.pi / np.sin(k * math.pi))
    return np.stack([moments.mean - scale * away, scale, shape], axis=-1)


def gev(moments: LMoments) -> Values:
    """Location, scale and shape [..., 3] of the GEV with these L-moments.

    k solves t3 = 2 (1 - 3^-k)/(1 - 2^-k) - 3; then scale = l2 k/((1 - 2^-k) G) and
    location = l1 - scale (1 - G)/k with G = Gamma(1 + k). Hosking's approximation, k = 7.8590 c + 2.9554 c^2 with
    c = 2/(3 + t3) - ln 2/ln 3, is where Newton's method begins; it ends when t3 is met to the last digits.

    Source: Hosking, Wallis and Wood, Technometrics 27 (1985) 251. From memory, unverified; compared with lmoments3 in
    the tests.
    """
    shape = _gev_shape(moments.skew)
    small = np.abs(shape) < SMALL
    k = np.where(small, SMALL, shape)
    ends = np.where(small, math.log(2.0), -np.expm1(-k * math.log(2.0)) / k)  # (1 - 2^-k)/k
    scale = moments.scale / (ends * gamma(1.0 + shape))
    away = np.where(small, np.euler_gamma, -np.expm1(gammaln(1.0 + k)) / k)
    return np.stack([moments.mean - scale * away, scale, shape], axis=-1)


def _gev_shape(skew: Values) -> Values:
    """The shape k with this L-skew."""
    c = 2.0 / (3.0 + skew) - math.log(2.0) / math.log(3.0)
    shape: Values = np.maximum(7.8590 * c + 2.9554 * c**2, 0.9 * LEAST_SHAPE)
    for _ in range(20):
        small = np.abs(shape) < SMALL
        k = np.where(small, SMALL, shape)
        three, two = np.expm1(-k * math.log(3.0)), np.expm1(-k * math.log(2.0))
        slope = 2.0 * (math.log(2.0) * (1.0 + two) * three - math.log(3.0) * (1.0 + three) * two) / two**2
        shape = np.maximum(k - (2.0 * three / two - 3.0 - skew) / slope, LEAST_SHAPE)
    return shape
