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
from overbank.study import schema
from overbank.study.blockages import Guideline, Recorded
from overbank.study.document import Document
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
from overbank.uncertain.families import FAMILIES as FORMS

IMPOSSIBLE: list[Any] = []
"""Not a number, a word, a text, a truth or a table."""

HEAD = ("key", "what", "expected", "if left out")

LEFT_OUT = {
    "at": "the first element with a bank",
    "normal_depth": "one of the three is needed",
    "level_m": "one of the three is needed",
    "rating": "one of the three is needed",
    "design_m3_s": "needed, or design_annual_probability",
    "design_annual_probability": "needed, or design_m3_s",
    "annual": "floods of a year are not asked about, unless there are annual_maxima",
    "annual_maxima": "floods of a year are not asked about, unless there is annual",
    "fit": "needed with annual_maxima",
    "design_life_years": "no probability over several years",
    "hydrograph": "the flood has no time of its own",
    "debris": "the flood brings none while it passes",
    "crew": "nobody clears anything while the flood passes",
    "hours_to_peak": "needed, but with a table, whose own it then is",
    "falling_ratio": "1.67 for a triangle",
    "sharpness": "3.697 for the gamma shape",
    "table": 'needed with shape = "table"',
    "first_flush": "none",
    "first_flush_flow_m3_s": "needed with first_flush",
    "arrivals_per_hour": "no rafts",
    "arrival_share": "needed with arrivals_per_hour",
    "call_level_m": "needed, or called_hours_before_peak",
    "called_hours_before_peak": "needed, or call_level_m",
    "not_above_m": "it works at any level",
    "daylight_hours": "it works by day and by night",
    "gumbel": "one of the four is needed",
    "gev": "one of the four is needed",
    "generalised_logistic": "one of the four is needed",
    "log_pearson3": "one of the four is needed",
    "equivalent_years": "the parameters are taken as known",
    "rating_shift_m": "0: the rating as it stands",
    "NormalDepth.bed_level_m": "the downstream bed of the first element",
    "bed_manning_n": "as manning_n",
    "silt_manning_n": "0.03, where silt may block the barrel",
    "entrance_loss": "the value of the table of inlets for the edge",
    "bar_shape": "rectangle, unless a shape_factor is given",
    "shape_factor": "that of the bar shape",
    "sill_level_m": "the upstream invert of the barrel",
    "overflow_coefficient": "1.7; none where overflow = false",
    "Bypass.sill_level_m": "the sill of the screen",
    "bypass": "no way beside the bars",
    "start_level_m": "the steady level of the flow with which the flood begins",
    "screen": "no screen",
    "relief": "no relief barrels",
    "road": "no road: no water passes over the top",
    "Screen.blockage": "needed, or debris_m2, or debris_m3",
    "debris_m2": "needed, or blockage, or debris_m3",
    "debris_m3": "needed, or blockage, or debris_m2",
    "debris_thickness_m": "needed with debris_m3",
    "inflow_m3_s": "nothing joins here",
    "flap": "no flap valve",
    "outlet_screen": "no bars at the outlet",
    "pier_raft": "no rafts on piers",
    "silt": "none",
    "blockage": "clean",
    "pattern": "uniform",
    "width_m": "the width of a rectangular approach; needed where the approach is a trapezoid or surveyed",
    "modular_limit": "that of the table of modular limits for the kind of crest",
    "side_opening": "no second group of openings",
    "skew": "the road is square to the flow",
    "spans": "needed where the angle is not 0",
    "pier_length_m": "needed where piers stand square to the road",
    "deck": "no water passes over the deck",
    "approach_road": "no water passes beside the bridge",
    "asked": "the defaults of its keys",
    "freeboard_to_soffit_m": "0: nothing is asked for",
    "screen_area_ratio": "3, common practice, no source",
    "people": "the defaults of its keys",
    "raking": "nothing is told of it",
    "platform_level_m": "not stated",
    "rake_length_m": "not stated",
    "cross_bars": "not stated",
    "incidents": "none are told",
    "class_bands": "a class tells nothing",
    "clear": "visits of this class tell nothing",
    "part": "visits of this class tell nothing",
    "blocked": "visits of this class tell nothing",
    "Guideline.basis": "the words, source and standing of the row",
    "Guideline.evidence": "judgement",
    "Recorded.basis": "what the visits are, and the prior",
    "Recorded.evidence": "local record; judgement below 20 independent looks",
    "kind": "each flood",
    "air_gap_m": "0: nothing is asked for",
    "to_m": "the last zone reaches to the end of the section",
    "invert_level_m": "the upstream invert of the barrel",
    "taper_length_m": "how slowly it tapers is not checked",
    "bank_level_m": "no bank is compared here; at least one element needs one",
    "Channel.bed_level_m": "the upstream bed of the element below; needed in the first element",
    "Dependence.basis": "not stated",
    "Observation.basis": "not stated",
    "from_level_m": "the median bank where the answers are read",
    "Money.basis": "not stated",
    "StudyFile.money": "nothing is said of money",
    "Receptor.at": "the element whose bank counts",
    "Receptor.basis": "not stated",
    "Observation.at": "the element whose bank counts",
    "precision_m": 'needed with samples = "auto"',
    "most_samples": f'{schema.MOST_AUTOMATIC}, with samples = "auto"',
    "loss_if_overtopped": "no worth in money is given; needed with cost_of_acting",
    "cost_of_acting": "no worth in money is given; needed with loss_if_overtopped",
    "Alternative.basis": "not stated",
    **{f"Document.{key}": "not stated; shown to the reviewer as a gap" for key in Document.model_fields},
    "target_in_a_year": "that of the design flood stands in the table of targets",
    "target_over_life": "that of the design flood stands in the table of targets",
    "tolerance_m": "no rise is set against anything",
    "requirements": "no figure is set against the results",
    "basis": "listed as a gap where the number is uncertain",
    "evidence": "not stated",
    "survey": "no survey is offered",
}
"""What stands in for an absent key whose default depends on other keys; `Class.key` where the word has two meanings."""

WHAT = {
    "kind": "the word that chooses these keys",
    "shape": "the word that chooses these keys",
    "head_factor": "what the head of inlet control is multiplied by: the error of the inlet equation",
    "exit_loss": "the share of the velocity head that is lost at the outlet, Ko",
    "inclination_deg": "the angle of the screen above the horizontal [deg]",
    "pattern": "where the debris sits",
    "coefficient": "the weir coefficient of the road or deck [m^0.5/s]",
    "angle_deg": "the angle between the crest's normal and the channel; 0 for a straight crest [deg]",
    "oblique_gain": "what is multiplied into the share of an oblique crest's extra length that counts",
    "flow_factor": "what the flow over the crest is multiplied by: the error of its coefficient",
    "contraction_loss": "the loss on the difference of velocity heads from the channel into the openings",
    "expansion_loss": "the loss on the difference of velocity heads from the openings into the channel",
    "sluice_coefficient": "the discharge coefficient when the soffit is drowned upstream only",
    "orifice_coefficient": "the discharge coefficient when the soffit is drowned on both sides",
    "afflux_factor": "what every loss at the bridge is multiplied by: the error of the method",
    "loss": "what the flap loses of the velocity head in the outlet",
    "bend_deg": "the angle through which the barrel turns at the upper end of the part [deg]",
    "shut": "the share of the mouth that a stuck flap leaves shut; 0 while it does not stick",
    "method": "how the roughness of the zones is combined",
    "shift_m": "what is added to every level of the survey or profile: the error of its datum [m]",
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
    parts += _section("A blockage from inspection records", Recorded)
    for form, columns in {"assets": ASSETS, "visits": VISITS, "incidents": INCIDENTS}.items():
        parts += [f"### The CSV file of {form}", _columns(columns)]
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
    return row(f"`{key}`", cell(what), cell(expected), cell(_default(found, key, field)))


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
        return found.IF_LEFT_OUT.get(key) or LEFT_OUT.get(f"{found.__name__}.{key}", "needed")
    given = field.get_default(call_default_factory=True)
    if given is None:
        known = found.IF_LEFT_OUT.get(key) or LEFT_OUT.get(f"{found.__name__}.{key}") or LEFT_OUT.get(key)
        return known or "may be left out"
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
