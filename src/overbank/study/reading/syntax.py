"""A file that is no TOML: where it stops being so, and what to write there."""

from __future__ import annotations

import re

from overbank.errors import Fault
from overbank.study.reading.plain import NUMBER_ALONE, PER_CENT
from overbank.study.reading.refusals import shortened

SYNTAX_REMEDIES = (
    ("Unescaped", "Write / between the folders of a path, and two backslashes for one."),
    ("overwrite", "The key or table is already there: remove or rename one of the two."),
    ("twice", "The key or table is already there: remove or rename one of the two."),
    ("duplicate", "The key or table is already there: remove or rename one of the two."),
    ("string", "Close the text with a quotation mark on the same line."),
    ("Illegal character", "Close the text with a quotation mark on the same line."),
    ("Unclosed array", "Close the list with ]."),
    ("inline table", "Separate the pairs with commas and close the table with }."),
    ("Invalid value", 'Write a number, true, false, a text in "quotation marks", a list or a table.'),
)

ONE_NUMBER = "Write one number, or a distribution such as { uniform = { low = 2.3, high = 2.5 } }."

NUMBER = r"=\s*[-+]?[\d.]+"
"""A number after the sign of a pair."""

HABITS = (
    (
        re.compile(r"^\s*[\w.-]+[^\w\s.=:#\"'\[\]-][^=\s]*\s*=", re.ASCII),
        "A key has letters, digits and _ only: m3_s, not m3/s.",
    ),
    (re.compile(r"^\s*\[[^\]]*$"), "Close the bracket."),
    (re.compile(r"=[^\"']*//"), "Begin a remark with #."),
    (re.compile(r"=\s*(yes|no|on|off|True|False|TRUE|FALSE)\b"), "Write true or false, in small letters."),
    (re.compile(r"=\s*[A-Za-z_]+\("), "Write a table, as in { normal = { mean = 2.4, sd = 0.1 } }."),
    (re.compile("=\\s*[\u2012-\u2015\u2212]\\s*\\.?\\d"), 'Write "-" for the minus.'),
    (re.compile(r"=\s*[~?]|=\s*about\b"), ONE_NUMBER),
    (re.compile(rf"{NUMBER}\s*(?:[\u2012-\u2015-]|\u00b1|to\b|\+/?-)\s*\d"), ONE_NUMBER),
    (re.compile(rf"{NUMBER}\s*[:/*]\s*\d"), "Write the number worked out: 0.003 for 1/333."),
    (re.compile(r"=\s*[-+]?\d{1,3}(?:,\d{3})+\b"), "Write a decimal point, and nothing between thousands."),
    (re.compile(r"=\s*[-+]?\d{1,3}(?:[ \u00a0\u202f']\d{3})+\b"), "Write nothing between thousands."),
    (re.compile(r"=\s*[-+]?\d*\.\d+\.[\d.]*"), "Write one decimal point."),
    (re.compile(r"=\s*[-+]?\.\d"), "Write a 0 before the point."),
    (re.compile(r"=\s*[-+]?\d+\.\s*(?:[#,}].*)?$"), "Write a figure after the point."),
    (re.compile(r"=\s*[-+]?0\d"), "Leave out the 0 before the number."),
    (re.compile(r"\bsd\s*=\s*[\d.]+\s*%"), "An sd has the unit of its number: write 0.72 for 30 % of 2.4."),
    (re.compile("=\\s*[\u201c\u201d\u201e\u2018\u2019\u00ab\u00bb]"), 'Write straight quotation marks, "...".'),
    (re.compile(r"=\s*[-+]?\d+,\d"), "Write a decimal point, not a comma."),
    (re.compile(r"=\s*[-+]?[\d.]+\s*%"), PER_CENT),
    (re.compile(r"=\s*[-+]?[\d.]+\s*[A-Za-z\u00b0][^\s=]*\s*(?:[#,}].*)?$"), NUMBER_ALONE),
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
