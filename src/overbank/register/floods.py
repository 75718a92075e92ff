"""Annual floods from two or more of their quantiles, as an owner's table gives them.

A Gumbel distribution F(q) = exp(-exp(-(q - u)/a)) has the flood of a return period T at

    q_T = u + a y_T,     y_T = -ln(-ln(1 - 1/T)),

so that u and a come from a straight line through the quantiles: exact for two, by least squares for more.

Source: Gumbel's reduced variate, from memory, unverified; the tests compare with SciPy's distribution.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from overbank.errors import DomainError

MOST_MISSED = 0.1
"""A quantile that the line misses by more than this share of it does not belong to a Gumbel distribution: common
practice, no source."""


def gumbel_through(floods: Mapping[float, float]) -> tuple[float, float]:
    """Location u and scale a [m3/s] from floods [m3/s] by return period [years].

    Raises
    ------
    DomainError : fewer than two, floods that do not rise with their return period, or none that a Gumbel fits
    """
    periods = np.array(sorted(floods))
    flows = np.array([floods[period] for period in periods])
    if periods.size < 2 or np.any(periods <= 1.0):
        raise DomainError("floods of two return periods at least, each above 1 year")
    if np.any(np.diff(flows) <= 0.0) or flows[0] <= 0.0:
        raise DomainError("floods above 0 that rise with their return period")
    variate = -np.log(-np.log1p(-1.0 / periods))
    scale, location = np.polyfit(variate, flows, 1)
    if np.max(np.abs(location + scale * variate - flows) / flows) > MOST_MISSED:
        raise DomainError(
            f"floods that a Gumbel distribution meets to {MOST_MISSED:.0%}; give its two most telling ones"
        )
    return float(location), float(scale)
