"""Words that other hands use for the words and keys of a study: what was most likely meant by them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

OTHER_WORDS: Mapping[str, tuple[str, ...]] = {
    "rectangular": ("box", "rectangle"),
    "square": ("box", "rectangle"),
    "circular": ("pipe",),
    "round": ("pipe",),
    "elliptical": ("ellipse",),
    "trapezoidal": ("trapezoid",),
    "surveyed_section": ("surveyed",),
    "generalised_extreme_value": ("gev",),
    "generalized_extreme_value": ("gev",),
    "pearson": ("log_pearson3",),
    "guess": ("judgement",),
    "estimate": ("judgement",),
    "routine": ("scheduled",),
    "planned": ("scheduled",),
    "gaussian": ("normal",),
    "stdev": ("sd",),
    "std_dev": ("sd",),
    "sigma": ("sd",),
    "cv": ("cov",),
    "mu": ("mean",),
    "average": ("mean",),
    "min": ("low",),
    "minimum": ("low",),
    "max": ("high",),
    "maximum": ("high",),
    "return_period": ("design_annual_probability",),
    "return_period_years": ("design_annual_probability",),
    "aep": ("design_annual_probability",),
}
"""A word, in small letters with underscores, and what it stands for, where that is known in its place."""


def known_word(word: str, known: Iterable[str]) -> str | None:
    """The known word that another word stands for; None where there is none."""
    candidates = set(known)
    plain = "_".join(word.lower().split())
    return next((each for each in OTHER_WORDS.get(plain, ()) if each in candidates), None)
