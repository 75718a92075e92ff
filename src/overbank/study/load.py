"""From a study file to a checked study: all faults in one pass, each with its place."""

from __future__ import annotations

import copy
import hashlib
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import tomli_w
from pydantic import ValidationError

from overbank.errors import DomainError, Fault, StudyError
from overbank.notebook import shown as shown_as
from overbank.study.alternatives import TABLES as CHANGEABLE
from overbank.study.alternatives import Alternative, arranged, changed, drop_dependences, put, way_to
from overbank.study.flood_checks import impossible_floods
from overbank.study.geometry import impossible_geometry
from overbank.study.reading.folder import Folder
from overbank.study.reading.lines import KeyPath, line_numbers, line_of, odd_numbers
from overbank.study.reading.numbers import Number
from overbank.study.reading.readable import Document, Readable, dotted
from overbank.study.reading.references import broken_references
from overbank.study.reading.refusals import list_of, refusal, shortened, shown
from overbank.study.reading.shared import with_shared
from overbank.study.reading.syntax import syntax_fault
from overbank.study.reading.unit_names import as_written, in_si
from overbank.study.reading.us_units import Door, Wrong
from overbank.study.schema import SEED, Run, StudyFile
from overbank.uncertain.checks import ParameterError
from overbank.uncertain.scipy_frozen import FromSciPy

if TYPE_CHECKING:
    from overbank.study.site_model import SiteModel

SETTINGS = ("run", "decision")
"""Tables that Python may change besides those that an alternative may."""

MOST_BYTES = 2**23
"""No study file is larger."""

NAME = "study.toml"
"""The study file of a folder."""


@dataclass(frozen=True, repr=False)
class Study:
    """A study that has been read and found sound.

    path : of the file
    folder : where it lies
    text : as it was read
    sha256 : of its bytes
    document : the same as plain tables, with what Python gives in its place
    content : its tables, checked
    alternatives : the same with each alternative's changes made, by its name
    files : SHA-256 of every file that it names, by that name
    ignored : heads of columns that nothing uses, of every table that it names
    given : what Python gives in place of what the file says, by dotted names

    Examples
    --------
    >>> wider = study.with_values({"lane.screen.width_m": 5.0, "lane.screen.gap_m": 0.15})
    >>> wider.model().levels({"lane.screen.blockage": [0.0, 0.5]}).columns.tolist()
    ['lane', 'garden']
    """

    path: Path
    folder: Path
    text: str
    sha256: str
    document: Document
    content: StudyFile
    alternatives: dict[str, StudyFile] = field(default_factory=dict)
    files: dict[str, str] = field(default_factory=dict)
    ignored: dict[str, tuple[str, ...]] = field(default_factory=dict)
    given: dict[str, Any] = field(default_factory=dict)

    @property
    def title(self) -> str:
        return self.content.title

    def __repr__(self) -> str:
        row = ", ".join(f"{each.id} ({each.kind})" for each in self.content.element)
        return f"<Study {self.title!r}: {row}; {self.content.run.samples:,} samples>"

    def _repr_html_(self) -> str:
        """What the study asks, as a notebook shows it."""
        decision, run = self.content.decision, self.content.run
        rows = [
            ("file", str(self.path)),
            ("going upstream", ", ".join(f"{each.id} ({each.kind})" for each in self.content.element)),
            ("accepted probability of overtopping", f"{100.0 * decision.target_probability:.6g}\u00a0%"),
            ("assurance", f"{100.0 * decision.assurance:.6g}\u00a0%"),
            ("samples", f"{run.samples:,} in {run.replicates} replicates, seed {run.seed}"),
            *((("alternatives", ", ".join(self.alternatives)),) if self.alternatives else ()),
        ]
        return shown_as(self.title, ("study", ""), rows)

    def alike(self, other: Study, *beside: str) -> bool:
        """Whether another study says the same, but for some tables of [flow] and for its alternatives."""

        def said(study: Study) -> dict[str, Any]:
            flow = {key: each for key, each in study.document["flow"].items() if key not in beside}
            return {key: each for key, each in study.document.items() if key != "alternative"} | {"flow": flow}

        return said(self) == said(other)

    def alternative(self, name: str) -> Study:
        """The study as one of its alternatives changes it.

        Raises
        ------
        DomainError : it has no such alternative
        """
        if name not in self.alternatives:
            known = list_of(tuple(self.alternatives)) if self.alternatives else "an alternative, of which it has none"
            raise DomainError(f"{self.path}: expected {known}; got {shown(name)}. Name one of its [[alternative]]s.")
        document = arranged(self.document, name)
        return replace(self, document=document, content=self.alternatives[name], alternatives={})

    def model(self) -> SiteModel:
        """The site as a function of a table of its numbers, for those who work from Python."""
        from overbank.study.build import build  # builds on this module
        from overbank.study.site_model import SiteModel  # fetches pandas

        return SiteModel(self.title, build(self))

    def with_samples(self, samples: int) -> Study:
        """The study, and its alternatives, with another number of samples.

        Raises
        ------
        StudyError : so many cannot be shared out among its replicates
        """
        settings = self.content.run
        asked = {"samples": samples, "replicates": settings.replicates, "design": settings.design}
        for _, fault in Run.disagreements(asked):
            raise StudyError(str(self.path), (_as_fault("run.samples", fault.context),))

        def resized(content: StudyFile) -> StudyFile:
            return content.model_copy(update={"run": content.run.model_copy(update={"samples": samples})})

        others = {name: resized(content) for name, content in self.alternatives.items()}
        return replace(self, content=resized(self.content), alternatives=others)

    def with_value(self, name: str, value: Any, basis: str | None = None) -> Study:
        """The study, and its alternatives, with one of its keys set. See `with_values`."""
        return self.with_values({name: value}, basis)

    def with_values(self, values: Mapping[str, Any], basis: str | None = None) -> Study:
        """The study, and its alternatives, with some of its keys set: numbers, words, geometry, whole tables.

        Parameters
        ----------
        values : by dotted names such as "lane.screen.gap_m"; each is what a study file could say there (a number, a
            word, a table such as {"normal": {"mean": 2.4, "sd": 0.1}}), or a frozen continuous distribution of SciPy
        basis : where distributions of SciPy come from; without one each is listed as a gap

        Whatever is checked of a key in the file is checked of these. The file itself stays as it is. A dependence of a
        number that is certain now goes.

        Raises
        ------
        StudyError : with every fault: no such key, or it may not have such a value
        """
        source = str(self.path)
        document, found, faults = copy.deepcopy(self.document), {}, []
        for name, value in values.items():
            try:
                read = _given(value, basis)
            except ParameterError as error:
                remedy = "Give scipy.stats.weibull_min(1.8, scale=0.3), for example."
                faults.append(Fault(name, error.expected, error.got, remedy))
                continue
            door = Door([])
            for own, turned in door.turned({name: read}).items():
                found[own] = turned
                if (fault := put(document, own, turned, (*CHANGEABLE, *SETTINGS))) is not None:
                    faults.append(_as_fault(name, fault.context))
            faults += [_as_fault(name, parts) for _, parts in door.wrong]
        if faults:
            raise StudyError(source, tuple(faults))
        drop_dependences(document, tuple(name for name, value in found.items() if _certain(value)))
        content, alternatives, folder = _sound(document, self.folder, self.text, source)
        given = {**self.given, **found}
        checked = replace(self, document=document, content=content, alternatives=alternatives)
        changed = replace(checked, files=folder.sha256, ignored=folder.ignored, given=given)
        return changed if "run.samples" in values else changed.with_samples(self.content.run.samples)


def _given(value: Any, basis: str | None) -> Any:
    """What Python gives, as a study file would say it; a distribution of SciPy as a number that has been read."""
    if hasattr(value, "ppf"):
        distribution = FromSciPy(value)
        return Number(distribution.median, distribution, basis)
    return value.item() if isinstance(value, np.generic) else value


def _certain(value: Any) -> bool:
    """Whether what is given leaves nothing uncertain."""
    return not isinstance(value, dict | Number) or (isinstance(value, dict) and "value" in value)


def given_words(value: Any) -> str:
    """What was given in place of the file's, as a reader is told it."""
    if isinstance(value, Number):
        return value.distribution.words if value.distribution is not None else f"{value.median:g}"
    return str(value)


def _as_fault(place: str, parts: Any) -> Fault:
    return Fault(place, parts["expected"], parts["got"], parts["remedy"])


def read_study(path: str | Path) -> Study:
    """Read and check a study file, or the study.toml of a folder.

    Raises
    ------
    StudyError
        With every fault that could be found in one pass: place, what was expected, what came, what to do.

    Examples
    --------
    >>> overbank.read_study("studies/quillet-lane").title
    'Culvert and screen under Quillet Lane (invented)'
    """
    named = Path(path)
    file = named / NAME if named.is_dir() else named
    source = str(file)
    raw = _read_bytes(file, named)
    try:
        text = _decoded(raw, source)
        document = _parsed(text, source)
    except StudyError:
        if file.suffix.lower() != ".toml":
            raise _no_study(source, "a file of another kind") from None
        raise
    if document and not document.keys() & StudyFile.model_fields:
        raise _no_study(source, f"a file with the keys {shortened(', '.join(document))}")
    return _study(file, document, text, raw)


def make_study(source: str | Mapping[str, Any], folder: str | Path = ".") -> Study:
    """A study from the text of a study file, or from the same as plain tables.

    Parameters
    ----------
    source : text in TOML, or a dict as `tomllib` would read it
    folder : where the files that it names lie

    Raises
    ------
    StudyError
        With every fault that could be found in one pass: place, what was expected, what came, what to do.

    Examples
    --------
    >>> text = study.text.replace("16384", "2048")
    >>> overbank.make_study(text).content.run.samples
    2048
    """
    file = Path(folder) / NAME
    try:
        text = source if isinstance(source, str) else tomli_w.dumps(source)
    except (TypeError, ValueError) as error:
        fault = Fault("the tables", "what a study file can say", str(error), "Give numbers, texts, lists and dicts.")
        raise StudyError(str(file), (fault,)) from None
    return _study(file, _parsed(text, str(file)), text, text.encode("utf-8"))


def _study(file: Path, document: Document, text: str, raw: bytes) -> Study:
    door = Door([])
    document = door.turned(document)
    content, alternatives, folder = _sound(document, file.parent, text, str(file), door.wrong)
    digest = hashlib.sha256(raw).hexdigest()
    return Study(file, file.parent, text, digest, document, content, alternatives, folder.sha256, folder.ignored)


def _sound(
    document: Document, directory: Path, text: str, source: str, wrong: Sequence[Wrong] = ()
) -> tuple[StudyFile, dict[str, StudyFile], Folder]:
    """The checked tables of a study and of its alternatives, and the files that it names; `wrong` is found already."""
    folder = Folder(directory)
    content, faults = _checked(document, folder)
    alternatives, more = _alternatives(document, folder, {_told(fault, document) for fault in faults})
    more += wrong
    for path, written in odd_numbers(text).items():
        expected = "underscores only before every three digits of a number, as in 12_000"
        remedy = "Leave them out, or write a decimal point where one is meant."
        more.append((path, refusal(expected, written, remedy).context))
    if content is None or faults or more:
        raise StudyError(source, _placed([*faults, *more], text, document))
    return content, alternatives, folder


BEGIN = 'Correct the path, or begin a study with "overbank new FOLDER".'


def _no_study(source: str, got: str, remedy: str = BEGIN) -> StudyError:
    """What was named is no study at all."""
    return StudyError(source, (Fault(source, "a study file, or a folder that holds study.toml", got, remedy),))


def _read_bytes(file: Path, named: Path) -> bytes:
    """The bytes of a study file; `named` is what the user called it, perhaps its folder."""
    try:
        if file.is_file():
            if file.stat().st_size > MOST_BYTES:
                raise _no_study(str(file), f"a file of {file.stat().st_size / 1e6:,.0f} MB")
            return file.read_bytes()
        others = sorted(each.name for each in named.glob("*.toml")) if named.is_dir() else []
        several = named.is_dir() and any(named.glob(f"*/{NAME}"))
    except (OSError, ValueError) as error:
        got, remedy = f"a file that cannot be read ({error})", "Check the path and the file's permissions."
        raise _no_study(str(file), got, remedy) from None
    if not named.is_dir():
        raise _no_study(str(named), "no file of that name")
    if others:
        raise _no_study(str(named), f"a folder with {shortened(', '.join(others))}", "Name the study file itself.")
    if several:
        raise _no_study(str(named), "a folder of studies", 'Name one of them; only "overbank run" takes all of them.')
    raise _no_study(str(named), "a folder without one")


def _decoded(raw: bytes, source: str) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        got = f"the byte {raw[error.start]:#04x}, which is not"
        remedy = "Save the file as UTF-8."
        raise StudyError(source, (Fault(f"line {line}", "text in UTF-8", got, remedy),)) from None


def _parsed(text: str, source: str) -> Document:
    try:
        return tomllib.loads(text)
    except RecursionError:
        fault = Fault("the file", "TOML", "lists or tables nested too deeply to read", "Write it flatter.")
    except ValueError as error:
        fault = syntax_fault(text, str(error))
    raise StudyError(source, (fault,))


def _checked(document: Document, folder: Folder) -> tuple[StudyFile | None, list[Any]]:
    content: StudyFile | None = None
    shared = with_shared(document, folder)
    document, faults = shared.document, [*shared.faults]
    try:
        content = StudyFile.model_validate(document, context={"folder": folder})
    except ValidationError as error:
        faults.extend((item["loc"], item["ctx"]) for item in error.errors() if not shared.tells(item["loc"]))
    seed = SEED if content is None else content.run.seed
    study = Readable(document, folder, {path for path, _ in faults}, seed)
    for check in (impossible_geometry, broken_references, impossible_floods):
        faults.extend((path, fault.context) for path, fault in check(study))
    return content, faults


Told = tuple[str, str, str]
"""A fault's number, what was expected and what came: the same wherever the number stands in its list."""


def _told(fault: Any, document: Document) -> Told:
    path, parts = fault
    return dotted(path, document), parts["expected"], parts["got"]


def _alternatives(
    document: Document, folder: Folder, known: set[Told]
) -> tuple[dict[str, StudyFile], list[tuple[KeyPath, Any]]]:
    """Each alternative's tables by its name, and the faults that it adds to those known of the study itself."""
    found: dict[str, StudyFile] = {}
    faults: list[tuple[KeyPath, Any]] = []
    written = document.get("alternative")
    for index, raw in enumerate(written if isinstance(written, list) else []):
        try:
            alternative = Alternative.model_validate(raw)
        except ValidationError:
            continue  # the study's own check tells
        at: KeyPath = ("alternative", index)
        if alternative.name in found:
            twice = refusal("a name that no other alternative bears", shown(alternative.name), "Rename one of them.")
            faults.append(((*at, "name"), twice.context))
        new, wrong = changed(document, alternative)
        faults += [((*at, *path), fault.context) for path, fault in wrong]
        content, others = _checked(new, folder)
        for fault in others:
            if (told := _told(fault, new)) not in known:
                name, _, got = told
                words = f'{got} at {name} in the alternative "{shortened(alternative.name)}"'
                faults.append((way_to(alternative, index, name), {**fault[1], "got": words}))
        if content is not None:
            found[alternative.name] = content
    return found, faults


def _placed(faults: list[Any], text: str, document: Document) -> tuple[Fault, ...]:
    """The faults in the order of their lines."""
    lines = line_numbers(text)
    placed: dict[Fault, int] = {}
    for path, parts in faults:
        own = as_written(path, lines)
        line = line_of(own, lines)
        words = [f"line {line}"] if line else []
        words += [dotted(own, document) or "the study"]
        words += [parts["row"]] if parts["row"] else []
        turned = "" if own == path or in_si(str(own[-1])) is None else ", in SI units,"
        fault = Fault(", ".join(words), parts["expected"], f"{parts['got']}{turned}".rstrip(","), parts["remedy"])
        placed.setdefault(fault, line or 0)
    return tuple(sorted(placed, key=placed.__getitem__))
