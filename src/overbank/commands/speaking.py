"""What goes to a terminal: nothing that steers it, in whatever letters it knows, and no fault when nobody listens."""

from __future__ import annotations

import codecs
import io
import os
import sys
from typing import TextIO
from unicodedata import category, normalize

MARKS = {0x061C, 0x200E, 0x200F, *range(0x2028, 0x202F), *range(0x2066, 0x206A), 0xFEFF}
"""Letters that turn the direction of writing, end a line, or cannot be seen: what follows them is not what it seems."""

NEAREST = {
    **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-"),
    **dict.fromkeys("\u2018\u2019", "'"),
    **dict.fromkeys("\u201c\u201d", '"'),
    **{"\u00b7": ".", "\u00d7": "x", "\u2264": "<=", "\u2265": ">=", "\u2022": "*"},
}
"""What stands in for a sign that an output does not know and that no letter is part of."""

TRANSLITERATED = "overbank.transliterated"


def visible(text: str) -> str:
    """A text as a terminal may show it: what would steer it is written out, as \\x1b; line ends and tabs stay."""
    return "".join(_written_out(letter) if _steers(letter) else letter for letter in text)


def _steers(letter: str) -> bool:
    return letter not in "\n\t" and (category(letter) in ("Cc", "Cs") or ord(letter) in MARKS)


def _written_out(letter: str) -> str:
    return f"\\x{ord(letter):02x}" if ord(letter) < 0x100 else f"\\u{ord(letter):04x}"


def _transliterated(error: UnicodeError) -> tuple[str, int]:
    """The nearest letters that the output knows; a question mark where there are none."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    known = []
    for letter in error.object[error.start : error.end]:
        near = NEAREST.get(letter, normalize("NFKD", letter))
        known.append(near.encode(error.encoding, "ignore").decode(error.encoding) or "?")
    return "".join(known), error.end


class _UntilClosed(io.FileIO):
    """An output; when its reader has gone, as `head` does, the rest goes nowhere and the command ends as it would.

    Nothing stands between it and the text, so that what a signal interrupts is not written twice.
    """

    def write(self, data: bytes) -> int:  # type: ignore[override]
        rest = memoryview(data)
        try:
            while rest:
                rest = rest[super().write(rest) :]
        except BrokenPipeError:
            os.dup2(os.open(os.devnull, os.O_WRONLY), self.fileno())
        return len(data)


def open_outputs() -> None:
    """Let the two outputs of this process take every text, and their readers leave."""
    codecs.register_error(TRANSLITERATED, _transliterated)
    if sys.__stdout__ is not None and sys.stdout is sys.__stdout__:
        sys.stdout = _taking_everything(sys.__stdout__, sys.__stdout__.isatty())
    if sys.__stderr__ is not None and sys.stderr is sys.__stderr__:
        sys.stderr = _taking_everything(sys.__stderr__, True)


def _taking_everything(output: TextIO, by_line: bool) -> TextIO:
    """The same output again; as it is where no file stands behind it, and where that is a console of Windows, which
    takes letters and no bytes.
    """
    if isinstance(output, io.TextIOWrapper) and not isinstance(getattr(output.buffer, "raw", output.buffer), io.FileIO):
        output.reconfigure(errors=TRANSLITERATED)
        return output
    try:
        file = _UntilClosed(output.fileno(), "w", closefd=False)
    except (OSError, ValueError):
        return output
    return io.TextIOWrapper(file, output.encoding, TRANSLITERATED, line_buffering=by_line)
