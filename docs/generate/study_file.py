"""The reference of the study file, made from the tables that check it.

What a key may be is asked of the program itself: it is given something impossible, and its refusal says what it
expected. So the page and the checks cannot part.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, get_args

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from generate.markdown import cell, row, table
from overbank.commands.cli import Kind
from overbank.study import schema
from overbank.study.blockages import Guideline, Recorded
from overbank.study.elements.element import Element
from overbank.study.kinds import KINDS
from overbank.study.money import Money
from overbank.study.reading.families import FAMILIES, may_be_given, ways_to_give
from overbank.study.reading.folder import Folder
from overbank.study.reading.numbers import Number, Survey
from overbank.study.reading.table import Table
from overbank.study.receptors import Receptor
from overbank.study.records.forms import ASSETS, INCIDENTS, VISITS, Column
from overbank.study.sections import PARTS, Lying
from overbank.study.worksheet import Sighted
from overbank.uncertain.families import FAMILIES as FORMS

IMPOSSIBLE: list[Any] = []
"""Not a number, a word, a text, a truth or a table."""

HEAD = ("key", "what", "expected", "if left out")

WHAT = {
    "kind": "the word that chooses these keys",
    "shape": "the word that chooses these keys",
    "coefficient": "the weir coefficient of the road or deck [m^0.5/s]",
}
"""What a key is for, where its description in the schema is taken up by its default."""


VARIANTS = {
    "SurveyedChannel": " with a surveyed section",
    "SurveyedNormalDepth": " with a surveyed section",
    "SurveyedApproach": " with a surveyed section",
    "TaperedInlet": " that is tapered",
    "RoadProfile": " that follows a profile",
}
"""What sets a table apart from its sister, where no word of its own does."""


STARTERS = Path(__file__).parents[2] / "src" / "overbank" / "study" / "starter"

LINKS = {
    "edge": "coefficients.md#inlets",
    "bar_shape": "coefficients.md#bar-shapes-of-a-screen",
    "prior": "coefficients.md#starting-points-for-a-blockage-without-records",
    "guideline": "coefficients.md#blockage-in-a-published-guideline",
    "pier_shape": "../theory/bridges.md#the-shape-of-the-piers",
    "pattern": "../theory/screens.md#patterns",
    "evidence": "#numbers",
    "family": "../theory/floods.md#the-annual-maxima",
}
"""Keys that take one of several words, and where these words are explained."""


def page() -> str:
    """All tables of a study file, top to bottom."""
    file = schema.StudyFile.model_fields
    parts = ["## The whole file", _rows(schema.StudyFile)]
    for key in ("document", "run", "decision", "flow", "tailwater"):
        parts += _section(f"[{key}]", next(_tables(file[key].annotation)))
    for found in _tables(Element):
        parts += _section(f"[[element]]{_choice(found)}", found)
    for shape, found in PARTS.items():
        parts += _section(f'[[element.barrel.part]] of shape = "{shape}"', found)
    parts += _section("[[dependence]]", schema.Dependence)
    parts += _section("[[observation]]", schema.Observation)
    parts += _section("[money]", Money)
    parts += _section("[[receptor]]", Receptor)
    parts += _section("[[alternative]]", schema.Alternative)
    parts += ["## Distributions", _families(), "## Surveys", _rows(Survey)]
    parts += _section("A blockage from a guideline", Guideline)
    parts += _section("A blockage from a worksheet", Sighted)
    parts += _section("A blockage from inspection records", Recorded)
    for form, columns in {"assets": ASSETS, "visits": VISITS, "incidents": INCIDENTS}.items():
        parts += [f"### The CSV file of {form}", _columns(columns)]
    parts += ["## Whole examples", "What `overbank new --kind` writes; the sites are invented."]
    for kind in Kind:
        text = (STARTERS / f"{kind.value}.toml").read_text(encoding="utf-8")
        parts.append(f"### `--kind {kind.value}`\n\n```toml\n{text.rstrip()}\n```")
    return "\n\n".join(parts)


def _section(title: str, found: type[Table], level: int = 2) -> list[str]:
    """A table and the tables in it, but those of the parts of a barrel, which stand once for all shapes of barrels."""
    parts = [f"{'#' * level} {cell(title)}", cell((found.__doc__ or "").split("\n\n")[0]), _rows(found)]
    for key, field in found.model_fields.items():
        inner = [each for each in _tables(field.annotation) if not issubclass(each, Lying)]
        for each in inner:
            which = _choice(each) if len(inner) > 1 else ""
            parts += _section(f"{key}{which}", each, min(level + 1, 4))
    return parts


def _tables(annotation: Any) -> Iterator[type[Table]]:
    """The tables that may stand where this annotation is."""
    if annotation is Element:
        yield from (each for kind in KINDS.values() for each in (kind.table, *kind.variants))
    elif isinstance(annotation, type) and issubclass(annotation, Table) and annotation.model_fields:
        yield annotation
    for part in get_args(annotation):
        yield from _tables(part)


def _word(found: type[Table]) -> tuple[str, str]:
    """The key whose word chooses this table among others, and the word; empty when it has none."""
    for key in ("shape", "kind"):
        if key in found.model_fields:
            return key, str(get_args(found.model_fields[key].annotation)[0])
    return "", ""


def _choice(found: type[Table]) -> str:
    key, word = _word(found)
    return (f' of {key} = "{word}"' if word else "") + VARIANTS.get(found.__name__, "")


def _rows(found: type[Table]) -> str:
    return table(HEAD, [_row(found, key, field) for key, field in found.model_fields.items()])


def _row(found: type[Table], key: str, field: FieldInfo) -> str:
    expected = _expected(found, key, field)
    what = field.description or _of_table(field) or WHAT.get(key) or expected.split(" from ")[0]
    words = f"{cell(what)} ([words]({LINKS[key]}))" if key in LINKS else cell(what)
    return row(f"`{key}`", words, cell(expected), cell(_default(found, key, field)))


def _of_table(field: FieldInfo) -> str:
    """What a table without a description of its own is for: the first sentence of its class."""
    for found in _tables(field.annotation):
        return (found.__doc__ or "").split("\n\n")[0].removesuffix(".")
    return ""


def _expected(found: type[Table], key: str, field: FieldInfo) -> str:
    """What the key may be, in the words of the refusal of something impossible."""
    choices = get_args(field.annotation)
    if choices and all(isinstance(choice, str) for choice in choices):
        return " or ".join(f'"{choice}"' for choice in choices)
    inner = list(_tables(field.annotation))
    if inner:
        words = ", ".join(_word(each)[1] for each in inner)
        chosen = len(inner) > 1 and _word(inner[0])[0]
        return f"a table, one of {words}; see below" if chosen else "a table; see below"
    with tempfile.TemporaryDirectory() as empty:
        try:
            found.model_validate({key: IMPOSSIBLE}, context={"folder": Folder(Path(empty))})
        except ValidationError as error:
            refusals = [each for each in error.errors() if each["loc"][:1] == (key,)]
            return str(refusals[0]["ctx"]["expected"]) if refusals else ""
    return ""


def _default(found: type[Table], key: str, field: FieldInfo) -> str:
    """What is taken when the key is left out."""
    if field.is_required():
        return found.if_left_out().get(key, "needed")
    given = field.get_default(call_default_factory=True)
    if given is None:
        return found.if_left_out().get(key, "may be left out")
    if isinstance(given, Number):
        return str(given.basis) if key == "pattern" else f"{given.median:g}: {given.basis}"
    if isinstance(given, Table | list):
        return "its defaults" if given else "none"
    if isinstance(given, tuple):
        return ", ".join(map(str, given)) or "none"
    return str(given).lower() if isinstance(given, bool) else str(given)


def _columns(columns: Mapping[str, Column]) -> str:
    """The columns of a form of inspection records."""
    lines = [
        row(f"`{name}`", cell(how.expected), "needed" if how.needed else "not recorded")
        for name, how in columns.items()
    ]
    return table(("column", "expected", "if empty or left out"), lines)


def _families() -> str:
    lines = []
    for name in FAMILIES:
        ways = " or ".join(", ".join(f"`{key}`" for key in way) for way in ways_to_give(name))
        if may := may_be_given(name):
            ways += f"; may have {', '.join(f'`{key}`' for key in may)}"
        words = (FORMS[name][0].make.__doc__ or "").split("\n\n")[0]
        lines.append(row(f"`{name}`", ways, cell(words)))
    return table(("word", "parameters", "what it is"), lines)
