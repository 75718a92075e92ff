"""The flood, as a study writes it: the design flow, and the annual maxima that it may come from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Annotated, Any, ClassVar, Self, get_args

import numpy as np
from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from overbank.study.historic import Historic
from overbank.study.passing import Crew, FloodDebris, FloodPool, Hydrograph
from overbank.study.peaks import Peaks
from overbank.study.reading.families import Parameters, parameter_table
from overbank.study.reading.folder import MOST_YEARS, folder_of
from overbank.study.reading.numbers import Number, number_from
from overbank.study.reading.plain import EvidenceWord, Text, annual_probability, bare_number, one_of, whole_number
from overbank.study.reading.refusals import LocatedRefusal, number, refusal, refusal_at
from overbank.study.reading.suggestions import likely
from overbank.study.reading.table import Table, unknown_keys, varied
from overbank.uncertain import flood_record
from overbank.uncertain.checks import ParameterError
from overbank.uncertain.distributions import Distribution
from overbank.uncertain.fitting import FITTED, LEAST_YEARS, Fit, Method, fit
from overbank.uncertain.floods import (
    LEAST_FLOW,
    MOST_FLOW,
    FloodOf,
    Floods,
    fitted_floods,
    floods_of_record,
    known_floods,
)

FAMILIES = (*FITTED, "log_pearson3")
"""Families of annual maxima."""

AVERAGE = "average"
"""In place of a family: all of them, weighted by their likelihood."""

DRY = 0.05
"""So large a share of the annual maxima may come out below zero, where the family reaches there."""

RARE = 0.001
"""The flood of this annual probability must still be one that a site can have."""

ANNUAL = "flow.annual"
"""Dotted path of the flood of a year."""

Record = flood_record.FloodRecord | flood_record.Peaks
"""What a family is fitted to."""

WAYS = ("design_m3_s", "design_annual_probability")
SOURCES = ("annual", "annual_maxima", "peaks")
RECORDS = ("annual_maxima", "peaks")


def _parameters(family: str) -> PlainValidator:
    """What reads the parameters of a family of annual maxima, which nothing may cut off."""
    return varied(parameter_table(family, bounds=(), known=True))


class Annual(Table):
    """The distribution of the annual maxima of the flow [m3/s], by its parameters: one of four families."""

    gumbel: Annotated[Parameters, _parameters("gumbel")] | None = Field(
        None, description="the parameters of the Gumbel distribution [m3/s]"
    )
    gev: Annotated[Parameters, _parameters("gev")] | None = Field(
        None, description="the parameters of the generalised extreme value distribution [m3/s]"
    )
    generalised_logistic: Annotated[Parameters, _parameters("generalised_logistic")] | None = Field(
        None, description="the parameters of the generalised logistic distribution [m3/s]"
    )
    log_pearson3: Annotated[Parameters, _parameters("log_pearson3")] | None = Field(
        None, description="the parameters of the log-Pearson III distribution, of the logarithm to base 10 of the flow"
    )
    equivalent_years: Annotated[int, whole_number(LEAST_YEARS, MOST_YEARS)] | None = Field(
        None, description="the years of record that would tell the parameters as well as they are known"
    )
    basis: Text | None = Field(None, description="where the distribution comes from")
    evidence: EvidenceWord | None = Field(None, description="how well it is known")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "gumbel": "one of the four is needed",
        "gev": "one of the four is needed",
        "generalised_logistic": "one of the four is needed",
        "log_pearson3": "one of the four is needed",
        "equivalent_years": "the parameters are taken as known",
        "basis": "listed as a gap where the number is uncertain",
        "evidence": "not stated",
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        given = [key for key in raw if key in FAMILIES]
        misspelt = any(likely(key, FAMILIES) for key in unknown_keys(cls, raw))
        if len(given) > 1 or (not given and not misspelt):
            remedy = "Keep one of them." if given else "Add one of them."
            yield (), refusal(f"one distribution: {', '.join(FAMILIES)}", " and ".join(given) or "none", remedy)
        if "log_pearson3" in given and "equivalent_years" in raw:
            expected = f"equivalent_years only beside {', '.join(FITTED)}"
            yield ("equivalent_years",), refusal(expected, "them beside log_pearson3", "Remove them.")

    @model_validator(mode="after")
    def _of_a_river(self) -> Self:
        for name, table in self.given.items():
            got, remedy = _impossible(table.distribution())
            if got:
                raise refusal_at((name,), _EXPECTED, got, remedy)
        return self

    @property
    def given(self) -> dict[str, Parameters]:
        """The family and its parameters; there is only one in a sound study."""
        tables = {name: getattr(self, name) for name in FAMILIES}
        return {name: table for name, table in tables.items() if table is not None}


class FitOfMaxima(Table):
    """How a distribution is fitted to the annual maxima."""

    family: Annotated[str, one_of((*FAMILIES, AVERAGE))] = Field(
        description="the family of distributions; average: all of them, each by how likely it makes the record"
    )
    ignore_below_m3_s: Annotated[float, bare_number(LEAST_FLOW, MOST_FLOW)] | None = Field(
        None, description="a year with a smaller maximum counts as being below this, and no more: low outliers [m3/s]"
    )
    method: Annotated[Method, one_of(get_args(Method))] = Field("l_moments", description="the method of the fit")
    basis: Text | None = Field(None, description="where the maxima come from, and why this family")
    evidence: EvidenceWord | None = Field(None, description="how well they are known")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "basis": "listed as a gap where the number is uncertain",
        "evidence": "not stated",
    }


def _read_maxima(raw: Any, info: ValidationInfo) -> tuple[float, ...]:
    return folder_of(info).maxima(raw, LEAST_FLOW, MOST_FLOW)


class Flow(Table):
    """The flood: the design flow, and if floods of a year are asked about, the annual maxima."""

    design_m3_s: Annotated[Number, number_from(LEAST_FLOW, MOST_FLOW, "a flow [m3/s]")] | None = Field(
        None, description="the design flow [m3/s]"
    )
    design_annual_probability: Annotated[float, annual_probability()] | None = Field(
        None, description="the annual probability of the design flow, which is then taken from the annual maxima"
    )
    annual: Annual | None = Field(None, description="the annual maxima of the flow [m3/s], by their distribution")
    annual_maxima: Annotated[tuple[float, ...], PlainValidator(_read_maxima)] | None = Field(
        None,
        description="the name of a CSV file with the header flow_m3_s, or year or date before it: the largest flow of "
        "each year [m3/s]; 0 in a year without any",
    )
    peaks: Peaks | None = None
    fit: FitOfMaxima | None = Field(
        None, description="how a distribution is fitted to the annual maxima, or to the peaks over a threshold"
    )
    historic: Historic | None = None
    climate_factor: Annotated[Number, number_from(0.5, 3.0, "a factor on the flow [-]")] | None = Field(
        None,
        description="what a climate to come multiplies every flow by, the design flow and the floods of a year; a "
        "factor of its own, so that it is seen apart from what else is not known",
    )
    design_life_years: Annotated[int, whole_number(1, 1000)] | None = Field(
        None, description="the years over which a probability of overtopping is given"
    )
    hydrograph: Hydrograph | None = None
    debris: FloodDebris | None = None
    crew: Crew | None = None
    pool: FloodPool | None = None

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "design_m3_s": "needed, or design_annual_probability",
        "design_annual_probability": "needed, or design_m3_s",
        "annual": "floods of a year are not asked about, unless there are annual_maxima",
        "annual_maxima": "floods of a year are not asked about, unless there is annual, or peaks",
        "fit": "needed with annual_maxima and with peaks",
        "design_life_years": "no probability over several years",
        "hydrograph": "the flood has no time of its own",
        "debris": "the flood brings none while it passes",
        "crew": "nobody clears anything while the flood passes",
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        given = [key for key in WAYS if key in raw]
        misspelt = any(likely(key, WAYS) for key in unknown_keys(cls, raw))
        if len(given) > 1 or (not given and not misspelt):
            remedy = "Keep one of them." if given else "Add one of them."
            yield (), refusal(f"one of {' and '.join(WAYS)}", " and ".join(given) or "neither", remedy)
        for key, beside in (("debris", "hydrograph"), ("crew", "debris"), ("pool", "hydrograph")):
            if key in raw and beside not in raw and not any(likely(each, (beside,)) for each in unknown_keys(cls, raw)):
                remedy = f"Add [flow.{beside}], or remove it."
                yield (key,), refusal(f"{key} only beside a table [flow.{beside}]", "none", remedy)
        sources = [key for key in SOURCES if key in raw]
        if len(sources) > 1:
            yield (sources[-1],), refusal("annual, annual_maxima or peaks", " and ".join(sources), "Keep one of them.")
        for key in RECORDS:
            if key in raw and "fit" not in raw:
                remedy = 'Add fit = { family = "gev" }, for example.'
                yield (key,), refusal(f"a fit beside {key}", "none", remedy)
        for key, records in (("fit", RECORDS), ("historic", RECORDS[:1])):
            if key in raw and not any(each in raw for each in records):
                words = " or ".join(records)
                yield (key,), refusal(f"{key} only beside {words}", "it without", f"Remove it, or add {words}.")
        for key in ("design_annual_probability", "design_life_years"):
            if key in raw and not sources:
                fault = refusal(f"{key} only beside annual maxima", "it without", "Add annual, annual_maxima or peaks.")
                yield (key,), fault

    @model_validator(mode="after")
    def _fits(self) -> Self:
        if self.fit is None or not (key := next((key for key in RECORDS if getattr(self, key) is not None), "")):
            return self
        why = by_whole_record(self)
        if why and self.fit.method != "maximum_likelihood":
            remedy = 'Write method = "maximum_likelihood".'
            raise refusal_at(("fit", "method"), f"maximum_likelihood, for {why}", self.fit.method, remedy)
        if self.peaks is not None and self.fit.ignore_below_m3_s is not None:
            expected, remedy = "ignore_below_m3_s only beside annual_maxima", "Remove it, or raise the threshold."
            raise refusal_at(("fit", "ignore_below_m3_s"), expected, "it beside peaks", remedy)
        try:
            best = _best(self, self.fit)
        except ParameterError as error:
            raise refusal_at((key,), error.expected, error.got, "Correct the file or the fit.") from None
        got, remedy = _impossible(best)
        if got:
            raise refusal_at((key,), _EXPECTED, got, remedy)
        return self

    @property
    def source(self) -> Annual | FitOfMaxima | None:
        """What tells of the annual maxima; it bears their basis and evidence."""
        return self.annual or self.fit


_EXPECTED = f"annual maxima from {number(LEAST_FLOW)} to {number(MOST_FLOW)} m3/s"


def _impossible(best: Distribution) -> tuple[str, str]:
    """What of the annual maxima no site can have, and what to do; empty texts when nothing is amiss."""
    dry = float(best.cdf(0.0))
    if dry > DRY:
        return f"flows of 0 or less in {dry:.0%} of the years", "Correct the parameters, or take another family."
    rare = float(best.quantile(1.0 - RARE))
    if not best.median >= LEAST_FLOW or not rare <= MOST_FLOW:
        got = f"a median of {number(best.median)} and a flood of {number(rare)} with the annual probability {RARE}"
        return got, "Correct the parameters (they are in m3/s)."
    return "", ""


def by_whole_record(flow: Flow) -> str:
    """What asks for a fit by the likelihood of the whole record; nothing where a list of maxima is all there is."""
    fit = flow.fit
    if flow.peaks is not None:
        return "peaks over a threshold"
    if fit is None or flow.annual_maxima is None:
        return ""
    reasons = {
        f"the family {fit.family}": fit.family not in FITTED,
        "years before the record": flow.historic is not None,
        "ignore_below_m3_s": fit.ignore_below_m3_s is not None,
        "years without any flow": 0.0 in flow.annual_maxima,
    }
    return next((words for words, so in reasons.items() if so), "")


def _record(flow: Flow, fit: FitOfMaxima) -> Record:
    if flow.peaks is not None:
        return flow.peaks.known
    assert flow.annual_maxima is not None
    past = None if flow.historic is None else flow.historic.known
    return flood_record.FloodRecord(flow.annual_maxima, fit.ignore_below_m3_s or 0.0, past)


def _best(flow: Flow, fit: FitOfMaxima) -> Distribution:
    """The best estimate, without what is not known of it."""
    if not by_whole_record(flow):
        assert flow.annual_maxima is not None
        return fitted_to(flow.annual_maxima, fit.family, fit.method).best
    from overbank.uncertain.likely_floods import best_of, likeliest  # slow to fetch, and few studies need it

    return best_of(likeliest(fit.family, _record(flow, fit)))


@lru_cache(maxsize=64)
def fitted_to(maxima: tuple[float, ...], family: str, method: Method) -> Fit:
    """The fit; made once, because every check asks anew."""
    return fit(family, method, np.array(maxima))


def floods_of(flow: Flow, seed: int) -> Floods | None:
    """The annual maxima with what is not known of their parameters; None where the study gives none.

    Raises
    ------
    ValueError : too many records of that length have no maximum of the likelihood
    """
    if flow.fit is not None and by_whole_record(flow):
        return _likeliest(flow.fit.family, _record(flow, flow.fit), seed)
    if flow.annual_maxima is not None and flow.fit is not None:
        return _fitted(flow.annual_maxima, flow.fit.family, flow.fit.method, seed)
    if flow.annual is None:
        return None
    ((name, table),) = flow.annual.given.items()
    if flow.annual.equivalent_years is None:
        return known_floods(table.distribution())
    given = table.model_dump(exclude_none=True)
    parameters = given["location"], given["scale"], given.get("shape", 0.0)
    return _of_record(name, parameters, flow.annual.equivalent_years, seed)


@lru_cache(maxsize=8)
def _likeliest(family: str, record: Record, seed: int) -> Floods:
    from overbank.uncertain.likely_floods import fit_likeliest  # slow to fetch, and few studies need it

    return fit_likeliest(family, record, seed)


@lru_cache(maxsize=8)
def _fitted(maxima: tuple[float, ...], family: str, method: Method, seed: int) -> Floods:
    return fitted_floods(fitted_to(maxima, family, method), seed)


@lru_cache(maxsize=8)
def _of_record(family: str, parameters: tuple[float, float, float], years: int, seed: int) -> Floods:
    return floods_of_record(family, FITTED[family].make(*parameters), years, seed)


def design_flow(flow: Flow, floods: Floods | None) -> Number:
    """The design flow, as given or as the flood of its annual probability."""
    if flow.design_m3_s is not None or floods is None or flow.design_annual_probability is None:
        assert flow.design_m3_s is not None
        return flow.design_m3_s
    probability, source = flow.design_annual_probability, flow.source
    assert source is not None
    basis, evidence = source.basis, source.evidence
    if floods.known:
        return Number(float(floods.flood(probability)[0]), None, basis, evidence)
    distribution = FloodOf(floods, probability)
    return Number(distribution.median, distribution, basis, evidence)
