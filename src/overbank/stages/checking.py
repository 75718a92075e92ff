"""The usual design checks: at the medians, and as shares of the samples."""

from __future__ import annotations

import numpy as np

from overbank.analysis import overtopping
from overbank.findings.checks import CheckedBarrels, CheckedFigure, Checks
from overbank.site import design_checks as site_checks
from overbank.site.design_checks import FILLINGS, DesignCheck, Filling
from overbank.stages.sampling import Array, Sampling


def design_checks(sampling: Sampling) -> Checks:
    """Every figure with the plain count of the samples in which it is less than asked, and how the barrels flow."""
    model = sampling.model
    row = model.medians()
    certain, of_certain = model.march(row), model.numbers(row)
    sampled, of_samples = sampling.samples.site, model.numbers(sampling.rows)
    figures = zip(
        site_checks.design_checks(certain, of_certain),
        site_checks.design_checks(sampled, of_samples),
        strict=True,
    )
    barrels = zip(
        site_checks.fillings(certain, of_certain),
        site_checks.fillings(sampled, of_samples),
        strict=True,
    )
    return Checks(
        tuple(_figure(sampling, once, each) for once, each in figures),
        tuple(_barrels(sampling, once, each) for once, each in barrels),
    )


def _figure(sampling: Sampling, once: DesignCheck, each: DesignCheck) -> CheckedFigure:
    return CheckedFigure(
        element=each.element,
        name=each.name,
        words=each.words,
        unit=each.unit,
        asked=each.asked,
        asked_by=sampling.problem.origin(each.asked_by),
        certain=float(once.values[0]),
        below=_less_than_nought(sampling, each.margins),
        negative=_less_than_nought(sampling, each.values) if each.unit else None,
    )


def _barrels(sampling: Sampling, once: Filling, each: Filling) -> CheckedBarrels:
    """Shares of what occurs at all, the most frequent first."""
    known = ~np.isnan(each.codes)
    shares = {
        words: _less_than_nought(sampling, np.where(known, np.where(each.codes == code, -1.0, 1.0), np.nan))
        for code, words in FILLINGS.items()
        if np.any(each.codes == code)
    }
    ordered = dict(sorted(shares.items(), key=lambda pair: -pair[1].value))
    return CheckedBarrels(each.element, FILLINGS.get(once.codes[0], "no solution"), ordered)


def _less_than_nought(sampling: Sampling, values: Array) -> overtopping.Probability:
    """Plain count of the samples in which something is less than nought."""
    return overtopping.plain(-values.reshape(sampling.shape), sampling.settings.design)
