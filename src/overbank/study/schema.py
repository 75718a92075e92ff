"""The whole study file: its tables, every key with what it means."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import Field, PlainValidator

from overbank.study.alternatives import Alternative
from overbank.study.document import Document
from overbank.study.flow import Flow
from overbank.study.kinds import AnyElement
from overbank.study.money import Money
from overbank.study.reading.plain import Text, Truth, as_float, bare_number, one_of, whole_number
from overbank.study.reading.refusals import LocatedRefusal, number, refusal, shown
from overbank.study.reading.suggestions import likely
from overbank.study.reading.table import Table, unknown_keys
from overbank.study.receptors import Receptor
from overbank.study.records.observations import Observation
from overbank.study.requirements import RequirementsFile
from overbank.study.tailwaters import Tailwater
from overbank.uncertain.pair_tails import Tail

Design = Literal["sobol", "latin_hypercube", "monte_carlo"]
"""Sampling designs."""

LEAST_SAMPLES, MOST_SAMPLES = 64, 2**24
LEAST_OF_EACH = 2
"""Samples of a replicate, which a scatter can be told from."""

SAMPLES, REPLICATES, DESIGN, SEED = 16384, 16, "sobol", 1
"""What a run takes when the study does not say."""

AUTOMATIC = "auto"
"""Instead of a number: as many samples as the precision needs."""

FIRST, MOST_AUTOMATIC = 128, 2**20
"""Samples of each replicate that an automatic run begins with, and all that it takes unless the study says."""


class Run(Table):
    """How the uncertain numbers are sampled."""

    samples: Annotated[int, whole_number(LEAST_SAMPLES, MOST_SAMPLES, AUTOMATIC)] = Field(
        SAMPLES, description='the number of samples, all replicates together; "auto" for as many as the precision needs'
    )
    replicates: Annotated[int, whole_number(2, 256)] = Field(
        REPLICATES, description="the number of independent replicates, which give the intervals"
    )
    design: Annotated[Design, one_of(get_args(Design))] = Field("sobol", description="the sampling design")
    seed: Annotated[int, whole_number(0, 2**63 - 1)] = Field(SEED, description="the seed of all random numbers")
    precision_m: Annotated[float, bare_number(0.0, open_ends=True)] | None = Field(
        None, description='with samples = "auto": the half width of the 95 % interval of the level that is wanted [m]'
    )
    most_samples: Annotated[int, whole_number(LEAST_SAMPLES, MOST_SAMPLES)] | None = Field(
        None, description='with samples = "auto": the number of samples never exceeded'
    )
    second_order: Truth = Field(False, description="whether what every two inputs do together is ranked as well")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "precision_m": 'needed with samples = "auto"',
        "most_samples": f'{MOST_AUTOMATIC}, with samples = "auto"',
    }

    @property
    def automatic(self) -> bool:
        """Whether the samples are doubled until the precision is met; `samples` is then how many to begin with."""
        return self.precision_m is not None

    @property
    def most(self) -> int:
        """The number of samples that an automatic run never exceeds."""
        return self.most_samples or MOST_AUTOMATIC

    @classmethod
    def completed(cls, raw: Any) -> Any:
        if isinstance(raw, dict) and raw.get("samples") == AUTOMATIC:
            return {**raw, "samples": _first_samples(raw)}
        return raw

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        samples, replicates = raw.get("samples", SAMPLES), raw.get("replicates", REPLICATES)
        design = raw.get("design", DESIGN)
        yield from _of_automatic(raw, samples, unknown_keys(cls, raw))
        if not (_whole(samples, LEAST_SAMPLES, MOST_SAMPLES) and _whole(replicates, 2, 256)):
            return
        allowed = _allowed_samples(samples, replicates, design)
        if samples not in allowed:
            each = "a power of two" if design == "sobol" else "the same whole number"
            few = f", at least {LEAST_OF_EACH}," if samples < LEAST_OF_EACH * replicates else ""
            expected = f"{each} of samples{few} in each of the {replicates} replicates"
            remedy = f"Write samples = {' or '.join(map(str, allowed))}."
            yield (
                ("samples" if "samples" in raw else "replicates",),
                refusal(expected, shown(samples), remedy),
            )


def _first_samples(raw: dict[str, Any]) -> int:
    replicates = raw.get("replicates", REPLICATES)
    return FIRST * replicates if _whole(replicates, 2, 256) else SAMPLES


def _of_automatic(raw: dict[str, Any], samples: Any, unknown: set[str]) -> Iterator[LocatedRefusal]:
    """What goes with samples = "auto", and with nothing else."""
    if isinstance(samples, str) and samples != AUTOMATIC:
        return
    if samples != AUTOMATIC:
        for key in ("precision_m", "most_samples"):
            if key in raw:
                remedy = f'Write samples = "{AUTOMATIC}", or remove it.'
                fault = refusal(f'{key} only beside samples = "{AUTOMATIC}"', "it beside a number", remedy)
                yield (key,), fault
        return
    if "precision_m" not in raw and not any(likely(key, ("precision_m",)) for key in unknown):
        expected = "the half width of the 95 % interval of the level that is wanted [m]"
        yield ("precision_m",), refusal(expected, "nothing", "Add precision_m = ... here.")
    most, least = raw.get("most_samples"), 2 * _first_samples(raw)
    if isinstance(most, int) and _whole(most, LEAST_SAMPLES, MOST_SAMPLES) and most < least:
        expected = f"at least {least} samples, to hold {least // 2} against twice as many"
        yield ("most_samples",), refusal(expected, shown(most), "Raise it, or take fewer replicates.")


def _whole(value: Any, low: int, high: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and low <= value <= high


def _allowed_samples(samples: int, replicates: int, design: Any) -> list[int]:
    """The nearest allowed numbers of samples, below and above."""
    counts = [replicates * 2**power for power in range(25)]
    if design != "sobol":
        below = samples - samples % replicates
        counts = [below, below + replicates]
    least = max(LEAST_SAMPLES, LEAST_OF_EACH * replicates)
    counts = [count for count in counts if least <= count <= MOST_SAMPLES]
    below_or_at = [count for count in counts if count <= samples][-1:]
    above_or_at = [count for count in counts if count >= samples][:1]
    return list(dict.fromkeys(below_or_at + above_or_at))


MONEY = ("loss_if_overtopped", "cost_of_acting")
"""Keys that are given together."""


NEAREST = {"target_probability": 1e-9, "assurance": 1e-6}
"""How near to 0 and 1 these can be told from them: by quantiles, and by figures of six digits."""


AGREES, DIGITS = 1e-9, 12
"""How near the assurance and one minus the target are one thing, and the digits of an assurance that follows."""


class Decision(Table):
    """What the answer is for."""

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "assurance": "one minus target_probability",
        "target_in_a_year": "that of the design flood stands in the table of targets",
        "target_over_life": "that of the design flood stands in the table of targets",
        "at": "the first element with a bank",
        "loss_if_overtopped": "no worth in money is given; needed with cost_of_acting",
        "cost_of_acting": "no worth in money is given; needed with loss_if_overtopped",
        "tolerance_m": "no rise is set against anything",
        "requirements": "no figure is set against the results",
    }

    target_probability: Annotated[float, bare_number(0.0, 1.0, open_ends=True)] = Field(
        description="the highest acceptable probability of overtopping in the design flood"
    )
    assurance: Annotated[float, bare_number(0.0, 1.0, open_ends=True)] = Field(
        description="the probability with which the allowance and the bank level shall hold"
    )
    target_in_a_year: Annotated[float, bare_number(0.0, 1.0, open_ends=True)] | None = Field(
        None, description="the highest acceptable probability of overtopping in a year"
    )
    target_over_life: Annotated[float, bare_number(0.0, 1.0, open_ends=True)] | None = Field(
        None, description="the highest acceptable probability of overtopping over flow.design_life_years"
    )
    at: Text | None = Field(None, description="the id of the element whose bank counts")
    loss_if_overtopped: Annotated[float, bare_number(0.0, open_ends=True)] | None = Field(
        None, description="what is lost when the water goes over the bank in the design flood [money]"
    )
    cost_of_acting: Annotated[float, bare_number(0.0, open_ends=True)] | None = Field(
        None, description="what it would cost to act, so that the water does not go over [money]"
    )
    tolerance_m: Annotated[float, bare_number(0.0, 10.0)] | None = Field(
        None, description="the rise of the level that an alternative may bring, by the user's own measure [m]"
    )
    requirements: RequirementsFile | None = Field(
        None, description="the name of a TOML file with the authority's own figures, to set beside the results"
    )

    @property
    def agrees(self) -> bool:
        """Whether target and assurance say one thing."""
        return abs(1.0 - self.target_probability - self.assurance) < AGREES

    @classmethod
    def completed(cls, raw: Any) -> Any:
        """The assurance follows from the target unless it is asked for by itself."""
        target = as_float(raw.get("target_probability")) if isinstance(raw, dict) else None
        if target is None or "assurance" in raw or not 0.0 < target < 1.0:
            return raw
        return {**raw, "assurance": min(round(1.0 - target, DIGITS), 1.0 - NEAREST["assurance"])}

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        missing = [key for key in MONEY if key not in raw]
        if len(missing) == 1 and not any(likely(key, missing) for key in unknown_keys(cls, raw)):
            remedy = f"Add {missing[0]} = ... here, or remove the other."
            yield (missing[0],), refusal(" and ".join(MONEY) + ", or neither", "only one of them", remedy)
        for key, nearest in NEAREST.items():
            value = as_float(raw.get(key))
            if value is not None and 0.0 < value < 1.0 and not nearest <= value <= 1.0 - nearest:
                expected = f"a number not nearer to 0 or 1 than {number(nearest)}"
                yield (key,), refusal(expected, f"the number {value!r}", "Correct the number.")


def _read_pair(raw: Any) -> tuple[str, str]:
    expected = "two names of uncertain numbers"
    if not isinstance(raw, list) or len(raw) != 2 or not all(isinstance(name, str) for name in raw):
        raise refusal(expected, shown(raw), 'Write ["flow.design_m3_s", "lane.screen.blockage"], for example.')
    if raw[0] == raw[1]:
        raise refusal(expected, f"{shown(raw[0])} twice", "Name two different numbers.")
    return raw[0], raw[1]


class Dependence(Table):
    """Two uncertain numbers that go together."""

    between: Annotated[tuple[str, str], PlainValidator(_read_pair)] = Field(
        description="a list of two names of uncertain numbers"
    )
    rank_correlation: Annotated[float, bare_number(-1.0, 1.0, open_ends=True)] = Field(
        description="Spearman's rank correlation, between -1 and 1"
    )
    tails: Annotated[Tail, one_of(get_args(Tail))] = Field(
        "gaussian", description="how far the extremes of the two go together, beside the rank correlation"
    )
    basis: Text | None = Field(None, description="where the correlation comes from")


def _read_shared(raw: Any) -> dict[str, Any]:
    """What its numbers are is for `reading.shared` to tell, which has put them into their places."""
    if not isinstance(raw, dict):
        raise refusal("a table [shared]", shown(raw), "Write [shared], then river_n = 0.04, for example.")
    return raw


OF_YEARS = {
    "target_in_a_year": (("annual", "annual_maxima", "peaks"),),
    "target_over_life": (("annual", "annual_maxima", "peaks"), ("design_life_years",)),
}
"""Targets over years, and what [flow] must have for each: one key of every group."""


class StudyFile(Table):
    """One study."""

    title: Text = Field(description="a title in quotation marks")
    document: Document = Field(default_factory=lambda: Document.model_validate({}), description="a table [document]")
    run: Run = Field(default_factory=lambda: Run.model_validate({}), description="a table [run]")
    decision: Decision = Field(description="a table [decision] with the keys target_probability, assurance")
    flow: Flow = Field(description="a table [flow] with the key design_m3_s")
    tailwater: Tailwater = Field(description="a table [tailwater] with one of normal_depth, level_m, rating")
    shared: Annotated[dict[str, Any], PlainValidator(_read_shared)] = Field(
        {}, description="a table [shared] of numbers and sections that several places use by their names"
    )
    element: list[AnyElement] = Field(min_length=1, description="at least one table [[element]], going upstream")
    dependence: list[Dependence] = Field([], description="tables [[dependence]]")
    observation: list[Observation] = Field([], description="tables [[observation]]")
    money: Money | None = Field(None, description="a table [money]")
    receptor: list[Receptor] = Field([], description="tables [[receptor]]")
    alternative: list[Alternative] = Field([], description="tables [[alternative]]")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "money": "nothing is said of money",
    }

    @classmethod
    def disagreements(cls, raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
        decision, flow = raw.get("decision"), raw.get("flow")
        given = flow if isinstance(flow, dict) else {}
        if "money" in raw and not any(key in given for key in OF_YEARS["target_in_a_year"][0]):
            remedy = "Add annual_maxima, peaks or annual to [flow], or remove it."
            yield ("money",), refusal("a table [money] only beside annual maxima", "none in [flow]", remedy)
        for key, needs in OF_YEARS.items():
            if isinstance(decision, dict) and key in decision and not all(any(k in given for k in ks) for ks in needs):
                expected = f"{key} only beside annual maxima" + (" and design_life_years" if len(needs) > 1 else "")
                yield ("decision", key), refusal(expected, "no such key in [flow]", "Add them to [flow], or remove it.")
        if isinstance(decision, dict) and "tolerance_m" in decision and not raw.get("alternative"):
            remedy = "Add an [[alternative]], or remove it."
            yield ("decision", "tolerance_m"), refusal("it only beside an alternative", "none", remedy)
