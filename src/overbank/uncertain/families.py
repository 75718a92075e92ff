"""A distribution from the name of its family and its parameters, as a study file gives them.

A new family is one class and one line in FAMILIES.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from numbers import Real
from typing import Any

from overbank.uncertain.bounded import Beta, InflatedBeta, Pert
from overbank.uncertain.build_up import BuildUp
from overbank.uncertain.checks import ParameterError, expect
from overbank.uncertain.distributions import Distribution, Lognormal, Normal, Triangular, Uniform
from overbank.uncertain.elicited import Elicited
from overbank.uncertain.extremes import GeneralisedExtremeValue, GeneralisedLogistic, Gumbel
from overbank.uncertain.log_pearson import LogPearson3
from overbank.uncertain.tabulated import Discrete, Empirical
from overbank.uncertain.truncation import Truncated


@dataclass(frozen=True)
class Form:
    """One way to give a family: what makes it, the parameters it needs, and those it may have."""

    make: Callable[..., Distribution]
    needs: tuple[str, ...]
    may: tuple[str, ...] = ()


IN_THE_FLOOD = ("at_one", "flood_rate_per_hour", "flood_hours", "attended", "unattended_hours")
"""What a build-up may be told of the flood itself."""

FAMILIES: Mapping[str, tuple[Form, ...]] = {
    "normal": (Form(Normal, ("mean", "sd")),),
    "lognormal": (Form(Lognormal, ("median", "cov")), Form(Lognormal.from_mean, ("mean", "sd"))),
    "uniform": (Form(Uniform, ("low", "high")),),
    "triangular": (Form(Triangular, ("low", "mode", "high")),),
    "beta": (Form(Beta, ("a", "b"), ("low", "high")),),
    "pert": (Form(Pert, ("low", "mode", "high")),),
    "inflated_beta": (Form(InflatedBeta, ("at_zero", "a", "b", "at_one")),),
    "build_up": (
        Form(BuildUp, ("rate_per_day", "ceiling", "raked_every_days"), IN_THE_FLOOD),
        Form(BuildUp.raked_at_random, ("rate_per_day", "ceiling", "raked_on_average_every_days"), IN_THE_FLOOD),
    ),
    "discrete": (Form(Discrete, ("values", "weights"), ("labels",)),),
    "elicited": (Form(Elicited, ("people", "low", "high"), ("weights", "shares")),),
    "empirical": (Form(Empirical, ("values",)),),
    "gumbel": (Form(Gumbel, ("location", "scale")),),
    "gev": (Form(GeneralisedExtremeValue, ("location", "scale", "shape")),),
    "generalised_logistic": (Form(GeneralisedLogistic, ("location", "scale", "shape")),),
    "log_pearson3": (Form(LogPearson3, ("mean_log10", "sd_log10", "skew_log10")),),
}
"""Every family by its name. Where low and high are not parameters of the family itself, they truncate it."""

LISTS = ("values", "weights", "labels", "people", "shares")
"""Parameters that are lists; all others are single numbers."""

BOUNDS = ("low", "high")


def family(name: str, parameters: Mapping[str, Any]) -> Distribution:
    """The distribution of this family; low and high truncate any family that has no parameters of that name.

    Raises
    ------
    ParameterError, for an unknown family, a parameter that is unknown,
    missing or not a number, or a number that the family cannot have.
    """
    expect(name in FAMILIES, f"a distribution, one of {', '.join(FAMILIES)}", _guess(name, FAMILIES))
    forms = FAMILIES[name]
    for key, given in parameters.items():
        if key not in LISTS:
            number = isinstance(given, Real) and not isinstance(given, bool)
            expect(number, f"a number for {key}", repr(given))
    known = dict.fromkeys(key for form in forms for key in (*form.needs, *form.may))
    bounds = {key: parameters[key] for key in BOUNDS if key in parameters and key not in known}
    own = {key: parameters[key] for key in parameters if key not in bounds}
    for key in own:
        expect(key in known, f"for {name} the parameters {_choices(forms)}", _guess(key, [*known, *BOUNDS]))
    for form in forms:
        if set(form.needs) <= set(own) <= {*form.needs, *form.may}:
            distribution = form.make(**own)
            return Truncated(distribution, **bounds) if bounds else distribution
    raise ParameterError(f"for {name} the parameters {_choices(forms)}", _listed(own) or "none")


def _listed(keys: Any) -> str:
    *most, last = keys or [""]
    return f"{', '.join(most)} and {last}" if most else last


def _choices(forms: tuple[Form, ...]) -> str:
    return ", or ".join(_listed(form.needs) for form in forms)


def _guess(word: str, known: Any) -> str:
    """The word that came, with the nearest known one, when one is near."""
    near = difflib.get_close_matches(word, list(known), n=1)
    return f"{word!r} (did you mean {near[0]!r}?)" if near else repr(word)
