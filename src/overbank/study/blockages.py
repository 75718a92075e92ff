"""A blocked share: a number, a row of a guideline's table, or what the user's own inspection records tell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import Field, PlainValidator, ValidationError, ValidationInfo
from pydantic_core import PydanticCustomError

from overbank.study.guidelines import guideline_words, guidelines, starting_points, starting_words
from overbank.study.reading.families import FAMILIES
from overbank.study.reading.folder import Folder, first_faults, folder_of
from overbank.study.reading.numbers import Number, number_from
from overbank.study.reading.plain import EvidenceWord, KindWord, Text, as_float, one_of
from overbank.study.reading.refusals import LocatedRefusal, choose, list_of, refusal, refusals, shown
from overbank.study.reading.sheets import TableSaid, source_of
from overbank.study.reading.suggestions import likely
from overbank.study.reading.table import Table
from overbank.study.records.checks import faults_of_assets, faults_of_incidents, faults_of_visits
from overbank.study.records.forms import ASSETS, CLASSES, INCIDENTS, REASONS, VISITS, Column, Row, read_form
from overbank.study.records.looks import ROUTINE, Record, record_of
from overbank.study.records.warnings import Band
from overbank.uncertain.records import RecordedBlockage, fit_records

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


PerCents = Annotated[Band, PlainValidator(_read_band)]


class ClassBands(Table):
    """What the classes of the visits mean, as bands of the blocked per cent of the clear opening."""

    clear: PerCents | None = Field(None, description="two per cents, the ends of the band")
    part: PerCents | None = Field(None, description="two per cents, the ends of the band")
    blocked: PerCents | None = Field(None, description="two per cents, the ends of the band")

    @property
    def bands(self) -> dict[str, Band]:
        """The bands that are declared."""
        return {name: band for name in CLASSES if (band := getattr(self, name)) is not None}


class Records(Table):
    """Inspection records as CSV files in the study's own folder. A distribution is fitted to what the visits to the
    asset found, from a prior; how much of it is prior is told."""

    assets: TableSaid = Field(description="the name of a CSV file or workbook of assets")
    visits: TableSaid = Field(description="the name of a CSV file or workbook of visits")
    incidents: TableSaid | None = Field(
        None, description="the name of a CSV file or workbook of incidents, which are told, not fitted"
    )
    asset: Text = Field(description="the asset_id of this screen or opening")
    prior: Annotated[str, one_of(PRIORS)] = Field(description="the starting point, in the words of its table")
    reasons: Annotated[tuple[str, ...], PlainValidator(_read_reasons)] = Field(
        ROUTINE, description="the reasons of the visits that are fitted"
    )
    class_bands: ClassBands | None = None

    def read(self, folder: Folder) -> Record:
        """What the files tell of the asset; the faults of all files are told at once."""
        faults: list[LocatedRefusal] = []
        assets = self._form(folder, "assets", ASSETS, faults)
        visits = self._form(folder, "visits", VISITS, faults)
        incidents = self._form(folder, "incidents", INCIDENTS, faults)
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
        return record_of(known[self.asset], seen, trouble, self.reasons, bands)

    def _form(self, folder: Folder, key: str, columns: Mapping[str, Column], faults: list[LocatedRefusal]) -> list[Row]:
        """The rows of one form; its faults join the others."""
        name = getattr(self, key)
        if name is None:
            return []
        try:
            return read_form(folder, name, columns)
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

    def number(self, folder: Folder) -> Number:
        """The fitted distribution, or the prior where there is too little to fit, with what it rests on."""
        record, prior = self.records.read(folder), self.records.prior
        fit = fit_records(record.looks, starting_points()[prior])
        said = [record.words, f"prior: {prior} ({guidelines()[prior].how_known})"]
        said.append(f"posterior predictive of an inflated beta, {100.0 * fit.prior_share:.0f} % of its chances prior")
        distribution = RecordedBlockage.of(fit, record.warnings)
        evidence = self.evidence or ("judgement" if fit.few else "local record")
        return Number(distribution.median, distribution, _joined(*said, self.basis), evidence, kind=self.kind)


class Guideline(Table):
    """A blockage from a row of a table, labelled with how it is known."""

    guideline: Annotated[str, one_of(GUIDELINES)] = Field(description="the words of a row; see the coefficients")
    basis: Text | None = Field(None, description="why this row")
    evidence: EvidenceWord | None = Field(None, description="how well it is known")
    kind: KindWord | None = Field(None, description="whether it is the same in all floods or anew in each")

    def number(self, _folder: Folder) -> Number:
        """The row as a distribution; its use here is judgement unless the study says otherwise."""
        distribution, basis, _ = guidelines()[self.guideline]
        evidence = self.evidence or "judgement"
        return Number(distribution.median, distribution, _joined(basis, self.basis), evidence, kind=self.kind)


def _joined(*words: str | None) -> str:
    return "; ".join(each for each in words if each)


WAYS: dict[str, type[Recorded] | type[Guideline]] = {"records": Recorded, "guideline": Guideline}
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
