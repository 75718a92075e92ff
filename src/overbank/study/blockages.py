"""A blocked share: a number, a row of a guideline's table, a worksheet, or what the user's own records tell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar

import numpy as np
from pydantic import Field, PlainValidator, ValidationError, ValidationInfo
from pydantic_core import PydanticCustomError

from overbank.study.guidelines import guideline_words, guidelines, starting_points, starting_words
from overbank.study.reading.families import FAMILIES
from overbank.study.reading.folder import Folder, first_faults, folder_of
from overbank.study.reading.numbers import Number, number_from
from overbank.study.reading.plain import EvidenceWord, KindWord, Text, Truth, as_float, one_of
from overbank.study.reading.refusals import LocatedRefusal, choose, list_of, refusal, refusals, shown
from overbank.study.reading.sheets import TableSaid, source_of
from overbank.study.reading.suggestions import likely
from overbank.study.reading.table import Table
from overbank.study.records.checks import faults_of_assets, faults_of_incidents, faults_of_visits
from overbank.study.records.forms import ASSETS, CLASSES, INCIDENTS, REASONS, VISITS, Column, Row, read_form
from overbank.study.records.looks import ROUTINE, Record, record_of
from overbank.study.records.warnings import Band
from overbank.study.worksheet import Sighted
from overbank.uncertain.bounded import InflatedBeta
from overbank.uncertain.checks import ParameterError
from overbank.uncertain.records import PRIOR_WORTH, Looks, RecordedBlockage, counts_of, fit_records, worths_of

GUIDELINES, PRIORS = guideline_words(), starting_words()


def _read_band(raw: Any) -> Band:
    ends = [as_float(end) for end in raw] if isinstance(raw, list) else []
    if len(ends) != 2 or ends[0] is None or ends[1] is None or not 0.0 <= ends[0] <= ends[1] <= 100.0:
        raise refusal("two per cents from 0 to 100, the lower one first", shown(raw), "Write [10, 60], for example.")
    return ends[0], ends[1]


def _read_reasons(raw: Any) -> tuple[str, ...]:
    if not isinstance(raw, list) or not raw:
        raise refusal(f"a list of {list_of(REASONS)}", shown(raw), "Write [first, second].")
    for reason in raw:
        if reason not in REASONS:
            raise refusal(list_of(REASONS), shown(reason), choose(reason, REASONS))
    return tuple(raw)


def _read_every_visit(raw: Any) -> dict[str, str]:
    if not isinstance(raw, dict) or not raw or not all(isinstance(text, str) for text in raw.values()):
        remedy = 'Write every_visit = { reason = "scheduled", observed = "yes" }, for example.'
        raise refusal("a table of words by the columns of the visits", shown(raw), remedy)
    for column, text in raw.items():
        how = VISITS.get(column)
        if how is None:
            raise refusal(f"columns of the visits, {list_of(VISITS)}", shown(column), choose(column, tuple(VISITS)))
        if how.read(text) is None:
            remedy = choose(text, how.words) if how.words else "Correct it."
            raise refusal(f"{how.expected} in {column}", shown(text), remedy)
    return raw


PerCents = Annotated[Band, PlainValidator(_read_band)]


class ClassBands(Table):
    """What the classes of the visits mean, as bands of the blocked per cent of the clear opening."""

    clear: PerCents | None = Field(None, description="two per cents, the ends of the band")
    part: PerCents | None = Field(None, description="two per cents, the ends of the band")
    blocked: PerCents | None = Field(None, description="two per cents, the ends of the band")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "clear": "visits of this class tell nothing",
        "part": "visits of this class tell nothing",
        "blocked": "visits of this class tell nothing",
    }

    @property
    def bands(self) -> dict[str, Band]:
        """The bands that are declared."""
        return {name: band for name in CLASSES if (band := getattr(self, name)) is not None}


class Records(Table):
    """Inspection records as CSV files in the study's own folder. A distribution is fitted to what the visits to the
    asset found, from a prior; how much of it is prior is told."""

    assets: TableSaid | None = Field(None, description="the name of a CSV file or workbook of assets")
    visits: TableSaid = Field(description="the name of a CSV file or workbook of visits")
    every_visit: Annotated[dict[str, str], PlainValidator(_read_every_visit)] | None = Field(
        None, description="a table of what holds of every visit, by the columns that their file does not have"
    )
    incidents: TableSaid | None = Field(
        None, description="the name of a CSV file or workbook of incidents, which are told, not fitted"
    )
    asset: Text = Field(description="the asset_id of this screen or opening")
    prior: Annotated[str, one_of(PRIORS)] = Field(description="the starting point, in the words of its table")
    reasons: Annotated[tuple[str, ...], PlainValidator(_read_reasons)] = Field(
        ROUTINE, description="the reasons of the visits that are fitted"
    )
    class_bands: ClassBands | None = None
    pooled: Truth = Field(
        False, description="true or false: does the prior learn from the other assets of this kind in the files"
    )

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "assets": "the one asset that `asset` names, of which nothing else is recorded",
        "every_visit": "nothing but that a file without asset_id is of this asset alone",
        "incidents": "none are told",
        "class_bands": "a class tells nothing",
    }

    def read(self, folder: Folder) -> tuple[Record, tuple[Looks, ...]]:
        """What the files tell of the asset, and the looks at the others of its kind where these are pooled.

        The faults of all files are told at once.
        """
        faults: list[LocatedRefusal] = []
        assets = self._form(folder, "assets", ASSETS, faults)
        visits = self._form(folder, "visits", VISITS, faults)
        incidents = self._form(folder, "incidents", INCIDENTS, faults)
        if self.assets is None:
            assets = [Row(0, {"asset_id": self.asset, "kind": "screen"})]
        known = {row.cells["asset_id"]: row for row in assets}
        if not faults:
            faults += self._told("assets", faults_of_assets(source_of(self.assets).label, assets))
            faults += self._told("visits", faults_of_visits(source_of(self.visits).label, visits, known))
            of_incidents = faults_of_incidents(source_of(self.incidents).label, incidents, tuple(known))
            faults += self._told("incidents", of_incidents)
            if self.asset not in known:
                remedy = choose(self.asset, tuple(known)) if known else "Add it to the assets."
                expected = f"an asset_id of {source_of(self.assets).label}"
                faults.append((("records", "asset"), refusal(expected, shown(self.asset), remedy)))
        if faults:
            raise refusals(faults)
        seen, trouble = (
            [row for row in rows if row.cells.get("asset_id") == self.asset] for rows in (visits, incidents)
        )
        bands = {} if self.class_bands is None else self.class_bands.bands
        own = known[self.asset]
        record = record_of(own, seen, trouble, self.reasons, bands)
        if not self.pooled:
            return record, ()
        others = [row for name, row in known.items() if name != self.asset and row.cells["kind"] == own.cells["kind"]]
        looked = [(row, [each for each in visits if each.cells["asset_id"] == row.cells["asset_id"]]) for row in others]
        return record, tuple(record_of(row, found, [], self.reasons, bands).looks for row, found in looked if found)

    def _form(self, folder: Folder, key: str, columns: Mapping[str, Column], faults: list[LocatedRefusal]) -> list[Row]:
        """The rows of one form; its faults join the others."""
        name = getattr(self, key)
        if name is None:
            return []
        try:
            in_every_row = {"asset_id": self.asset, **(self.every_visit or {})} if key == "visits" else {}
            return read_form(folder, name, columns, in_every_row)
        except PydanticCustomError as fault:
            faults.append((("records", key), fault))
        except ValidationError as error:
            faults += [(("records", key), refusal(**each["ctx"])) for each in error.errors()]
        return []

    def _told(self, key: str, found: Iterator[LocatedRefusal]) -> list[LocatedRefusal]:
        listed = list(found)
        return [(("records", key), fault) for _, fault in first_faults(listed, source_of(getattr(self, key)).label)]


class Recorded(Table):
    """A blockage from inspection records."""

    records: Records
    basis: Text | None = Field(None, description="what else is to be said of the records")
    evidence: EvidenceWord | None = Field(None, description="how well it is known")
    kind: KindWord | None = Field(None, description="whether it is the same in all floods or anew in each")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "basis": "what the visits are, and the prior",
        "evidence": "local record; judgement below 20 independent looks",
        "kind": "each flood",
    }

    def number(self, folder: Folder) -> Number:
        """The fitted distribution, or the prior where there is too little to fit, with what it rests on."""
        (record, others), prior = self.records.read(folder), self.records.prior
        start = starting_points()[prior]
        said = [record.words, f"prior: {prior} ({guidelines()[prior].how_known})"]
        worth = PRIOR_WORTH
        if self.records.pooled:
            start, worth, words = _pooled(others, start)
            said.append(words)
        fit = fit_records(record.looks, start, worth)
        said.append(f"posterior predictive of an inflated beta, {100.0 * fit.prior_share:.0f} % of its chances prior")
        distribution = RecordedBlockage.of(fit, record.warnings)
        evidence = self.evidence or ("judgement" if fit.few else "local record")
        return Number(distribution.median, distribution, _joined(*said, self.basis), evidence, kind=self.kind)


def _pooled(others: tuple[Looks, ...], start: InflatedBeta) -> tuple[InflatedBeta, float, str]:
    """The starting point with the chances of nothing and of everything blocked from other screens, and its worth."""
    from overbank.uncertain.pooled import shared_prior  # slow to fetch, and few studies need it

    counts = np.array([counts_of(looks, start) for looks in others if looks.low]).reshape(-1, 3)
    try:
        found = shared_prior(counts, worths_of(start))
    except ParameterError as error:
        remedy = "Remove pooled, or add their visits."
        raise refusals([(("records", "pooled"), refusal(error.expected, error.got, remedy))]) from None
    worth = sum(found.worths)
    at_zero, _, at_one = (each / worth for each in found.worths)
    words = (
        f"its chances of nothing and of everything blocked pooled with {found.screens} others of its kind "
        f"({counts.sum():.0f} looks; empirical Bayes), {at_zero:.2g} and {at_one:.2g}, worth {worth:.3g} looks"
    )
    if found.alike:
        words += ": the records do not tell these screens apart"
    return InflatedBeta(at_zero, start.a, start.b, at_one), worth, words


class Guideline(Table):
    """A blockage from a row of a table, labelled with how it is known."""

    guideline: Annotated[str, one_of(GUIDELINES)] = Field(description="the words of a row; see the coefficients")
    basis: Text | None = Field(None, description="why this row")
    evidence: EvidenceWord | None = Field(None, description="how well it is known")
    kind: KindWord | None = Field(None, description="whether it is the same in all floods or anew in each")

    IF_LEFT_OUT: ClassVar[Mapping[str, str]] = {
        "basis": "the words, source and standing of the row",
        "evidence": "judgement",
        "kind": "each flood",
    }

    def number(self, _folder: Folder) -> Number:
        """The row as a distribution; its use here is judgement unless the study says otherwise."""
        distribution, basis, _ = guidelines()[self.guideline]
        evidence = self.evidence or "judgement"
        return Number(distribution.median, distribution, _joined(basis, self.basis), evidence, kind=self.kind)


def _joined(*words: str | None) -> str:
    return "; ".join(each for each in words if each)


WAYS: dict[str, type[Recorded] | type[Guideline] | type[Sighted]] = {
    "records": Recorded,
    "guideline": Guideline,
    "worksheet": Sighted,
}
"""Ways to give a blockage besides a number or a distribution, by the key that tells them."""


def blocked_share() -> PlainValidator:
    """What reads a blocked share, however it is given."""
    plain = number_from(0.0, 1.0, "a blocked share")

    def read(raw: Any, info: ValidationInfo) -> Number:
        way = _way(raw)
        if way is not None:
            return WAYS[way].model_validate(raw, context=info.context).number(folder_of(info))
        number: Number = plain.func(raw, info)  # type: ignore[call-arg]
        return number

    return PlainValidator(read)


def _way(raw: Any) -> str | None:
    """The way that a table means, even when its key is misspelt."""
    if not isinstance(raw, dict):
        return None
    others = [near for key in raw if key not in KNOWN for near in likely(key, KNOWN) if near in WAYS]
    return next(iter([*filter(WAYS.__contains__, raw), *others]), None)


KNOWN = (*WAYS, "value", *FAMILIES, "basis", "evidence", "survey", "kind")
"""Keys of a number, however it is given."""
