"""Reads our docstrings for the Python reference: `name : what it is`, the type standing in the signature."""

from __future__ import annotations

import re
from textwrap import indent
from typing import Any

from griffe import Extension, Object

SECTION = re.compile(r"(?ms)^(Parameters|Raises|Returns|Yields)\n(-+)\n(.*?)(?=\n\n|\Z)")
ENTRY = re.compile(r"(?m)^(\w[\w, ]*) : ")


class WordsAfterTheColon(Extension):
    """The reader of numpy docstrings takes what follows the colon for a type; ours are words."""

    def on_object(self, *, obj: Object, **_: Any) -> None:
        """Move the words to a line of their own."""
        if obj.docstring is not None:
            obj.docstring.value = reworded(obj.docstring.value, str(getattr(obj, "returns", None) or "result"))


def reworded(docstring: str, returned: str) -> str:
    """The docstring with the words of every entry on a line of their own; `returned` is the type of the result."""

    def section(part: re.Match[str]) -> str:
        title, line, body = part.groups()
        named = ENTRY.sub(r"\1\n    ", body)
        if title in ("Returns", "Yields") and named == body:
            named = f"{returned}\n{indent(body, '    ')}"
        return f"{title}\n{line}\n{named}"

    return SECTION.sub(section, docstring)
