"""Reads our docstrings for the Python reference: `name : what it is`, the type standing in the signature."""

from __future__ import annotations

import re
from typing import Any

from griffe import Extension, Object

SECTION = re.compile(r"(?ms)^(Parameters|Raises|Returns|Yields)\n-+\n.*?(?=\n\n|\Z)")
ENTRY = re.compile(r"(?m)^(\w[\w, ]*) : ")


class WordsAfterTheColon(Extension):
    """The reader of numpy docstrings takes what follows the colon for a type; ours are words."""

    def on_object(self, *, obj: Object, **_: Any) -> None:
        """Move the words to a line of their own."""
        if obj.docstring is not None:
            obj.docstring.value = SECTION.sub(lambda part: ENTRY.sub(r"\1\n    ", part[0]), obj.docstring.value)
