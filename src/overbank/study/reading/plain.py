"""Values that are never uncertain: words, texts, whole numbers, yes or no, parameters of distributions."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Annotated, Any, Literal, get_args

from pydantic import PlainValidator

from overbank.study.reading.refusals import choose, list_of, nearest, number, refusal, shown


def as_float(raw: Any) -> float | None:
    """The number that was written, or None: true is no number, nor is a text, nan, an infinity or a giant."""
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        return None
    try:
        value = float(raw)
    except OverflowError:
        return None
    return value if math.isfinite(value) else None


NUMBER_ALONE = "Write the number alone; its unit stands at the end of its name."
PER_CENT = "Write a share from 0 to 1, so 0.05 for 5 per cent."


def bare_number(low: float = -math.inf, high: float = math.inf, *, open_ends: bool = False) -> PlainValidator:
    """A certain number without a basis, inside limits; `open_ends` keeps it off the limits themselves."""
    if math.isinf(low):
        expected = "a number"
    elif math.isinf(high):
        expected = f"a number {'above' if open_ends else 'not below'} {number(low)}"
    else:
        ends = "between" if open_ends else "from"
        expected = f"a number {ends} {number(low)} {'and' if open_ends else 'to'} {number(high)}"

    def read(raw: Any) -> float:
        value = as_float(raw)
        if value is None:
            raise refusal(expected, shown(raw), not_a_number(raw))
        inside = low < value < high if open_ends else low <= value <= high
        if not inside:
            raise refusal(expected, shown(raw), out_of_range(value, high, "Correct the number."))
        return value

    return PlainValidator(read)


def out_of_range(value: float, high: float, otherwise: str) -> str:
    """The remedy for a number outside its limits: a share was perhaps written in per cent."""
    in_per_cent = high == 1.0 and 2.0 <= value < 100.0
    return f"Write {number(value / 100.0)} for {number(value)} %." if in_per_cent else otherwise


A_NUMBER_AND_MORE = re.compile(r"\s*[-+]?\d+(?:([.,])\d+)?\s*(.*?)\s*", re.DOTALL)
"""A number as somebody may have put it in quotation marks, with its decimal mark and its unit."""


def not_a_number(raw: Any) -> str:
    """The remedy when something else stands where a number should."""
    if isinstance(raw, str) and raw.startswith("shared."):
        return "Write the number, or give it in a table [shared]."
    written = A_NUMBER_AND_MORE.fullmatch(raw) if isinstance(raw, str) else None
    if written is None:
        return "Write a number."
    if written[2] == "%":
        return PER_CENT
    if written[2]:
        return NUMBER_ALONE
    return "Remove the quotation marks" + (", and write a decimal point." if written[1] == "," else ".")


def annual_probability() -> PlainValidator:
    """A number between 0 and 1; a return period in its place is told how to be written."""
    share = bare_number(0.0, 1.0, open_ends=True)

    def read(raw: Any) -> float:
        years = as_float(raw)
        if years is None or years < 2.0:
            return float(share.func(raw))  # type: ignore[call-arg]
        remedy = f"Write {number(1.0 / years)} for 1 in {number(years)}"
        remedy += f", or {number(years / 100.0)} for {number(years)} %." if years < 100.0 else "."
        raise refusal("a number between 0 and 1", shown(raw), remedy)

    return PlainValidator(read)


def whole_number(low: int, high: int, word: str = "") -> PlainValidator:
    """A whole number inside limits; `word` is what may be written instead, and is read elsewhere."""
    expected = f"a whole number from {low} to {high}" + (f', or "{word}"' if word else "")

    def read(raw: Any) -> int:
        if isinstance(raw, bool) or not isinstance(raw, int):
            whole = isinstance(raw, float) and math.isfinite(raw) and raw == round(raw)
            meant = word and isinstance(raw, str) and nearest(raw, (word,))
            remedy = f"Write {round(raw)}." if whole else f'Write "{word}".' if meant else "Write a whole number."
            if whole and not low <= raw <= high:
                remedy = "Correct the number."
            raise refusal(expected, shown(raw), remedy)
        if not low <= raw <= high:
            raise refusal(expected, shown(raw), "Correct the number.")
        return raw

    return PlainValidator(read)


def one_of(words: Sequence[str]) -> PlainValidator:
    """One of a few words."""
    expected = list_of(words)

    def read(raw: Any) -> str:
        if isinstance(raw, str) and raw in words:
            return raw
        raise refusal(expected, shown(raw), choose(raw, words))

    return PlainValidator(read)


def _read_text(raw: Any) -> str:
    if not isinstance(raw, str):
        raise refusal("a text in quotation marks", shown(raw), "Put it in quotation marks.")
    if not raw.strip():
        raise refusal("a text in quotation marks", "an empty text", "Write what it is, or leave the key out.")
    return raw


def _read_truth(raw: Any) -> bool:
    if not isinstance(raw, bool):
        raise refusal("true or false", shown(raw), "Write true or false, without quotation marks.")
    return raw


RESERVED = ("flow", "tailwater", "shared")
"""Words that begin the names of other numbers, so that no element may bear them."""


def _read_id(raw: Any) -> str:
    expected = "a plain word of letters, digits, hyphens and underscores"
    if not isinstance(raw, str) or not re.fullmatch(r"[A-Za-z0-9_-]{1,40}", raw):
        raise refusal(expected, shown(raw), 'Write a short name, like "lane".')
    if raw in RESERVED:
        raise refusal(f"{expected}, other than {list_of(RESERVED)}", shown(raw), "Choose another name.")
    return raw


Text = Annotated[str, PlainValidator(_read_text)]
Id = Annotated[str, PlainValidator(_read_id)]
Truth = Annotated[bool, PlainValidator(_read_truth)]
Bare = Annotated[float, bare_number()]

Evidence = Literal["measured", "local record", "published", "judgement"]
"""How well a number is known, from best to worst."""

EvidenceWord = Annotated[Evidence, one_of(get_args(Evidence))]

Kind = Literal["knowledge", "each flood"]
"""Whether an uncertain number is the same in all floods, only nobody knows it, or comes out anew in each."""

KindWord = Annotated[Kind, one_of(get_args(Kind))]
