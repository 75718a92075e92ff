"""A file that is no TOML: where it stops being so, and what to write there."""

from __future__ import annotations

import re

from overbank.errors import Fault
from overbank.study.reading.plain import NUMBER_ALONE, PER_CENT
from overbank.study.reading.refusals import shortened

SYNTAX_REMEDIES = (
    ("overwrite", "The key or table is already there: remove or rename one of the two."),
    ("twice", "The key or table is already there: remove or rename one of the two."),
    ("duplicate", "The key or table is already there: remove or rename one of the two."),
    ("string", "Close the text with a quotation mark on the same line."),
    ("Illegal character", "Close the text with a quotation mark on the same line."),
    ("Unclosed array", "Close the list with ]."),
    ("inline table", "Separate the pairs with commas and close the table with }."),
    ("Invalid value", 'Write a number, true, false, a text in "quotation marks", a list or a table.'),
)

HABITS = (
    (re.compile("=\\s*[\u201c\u201d\u201e\u2018\u2019\u00ab\u00bb]"), 'Write straight quotation marks, "...".'),
    (re.compile(r"=\s*[-+]?\d+,\d"), "Write a decimal point, not a comma."),
    (re.compile(r"=\s*[-+]?[\d.]+\s*%"), PER_CENT),
    (re.compile(r"=\s*[-+]?[\d.]+\s*[A-Za-z][^\s=]*\s*(?:[#,}].*)?$"), NUMBER_ALONE),
    (re.compile(r"=\s*\{\s*(#.*)?$"), "Write all of the table between { and } on one line."),
    (
        re.compile(r"^\s*\[(element|dependence|observation|receptor|alternative)\]"),
        "Write it in double brackets, [[...]].",
    ),
)
"""What hands that are used to other files write in a line that is no TOML, and what to write instead."""


def syntax_fault(text: str, message: str) -> Fault:
    """A fault of TOML itself, with the line as it stands."""
    said = re.match(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)$", message, re.DOTALL)
    lines = text.splitlines() or [""]
    what = said[1] if said else message
    place, line = f"line {len(lines)}", lines[-1]
    if said and said[2]:
        place, number = f"line {said[2]}, column {said[3]}", int(said[2])
        line = lines[number - 1] if number <= len(lines) else ""
    habit = next((words for pattern, words in HABITS if pattern.search(line)), "")
    remedy = habit or next((words for key, words in SYNTAX_REMEDIES if key in what), "Write key = value.")
    return Fault(place, f"TOML ({shortened(what)})", f'"{shortened(line)}"', remedy)
