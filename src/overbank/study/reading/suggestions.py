"""Which known key an unknown one most likely meant."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from overbank.study.reading.other_words import known_word

ALIKE, NEARLY = 0.75, 0.6
"""Likeness in spelling that says more than a shared word does, and that is told where no word is shared."""

MOST = 3
"""Keys that are named at once; where more share a word, none of them is likelier than the whole list."""

UNITS = ("m", "mm", "cm", "km", "m2", "m3", "ft", "ft2", "ft3", "in", "s", "deg", "pct")
"""Words that end a key and say nothing of what it is for."""


def likely(key: str, known: Iterable[str]) -> list[str]:
    """The known key that is spelt alike, or those that share a word with it; the unit at the end does not count."""
    known = list(known)
    if (other := known_word(key, known)) is not None:
        return [other]
    stems = {_stem(each): each for each in known}
    words = set(_stem(key).split("_"))
    sharing = [each for stem, each in stems.items() if words & set(stem.split("_"))]
    if alike := _spelt(key, stems, ALIKE):
        return alike
    if sharing:
        return sharing if len(sharing) <= MOST else []
    return _spelt(key, stems, NEARLY)


def meant(unknown: Iterable[str], known: Iterable[str]) -> set[str]:
    """Known keys for which an unknown one stands beyond doubt, so that they are not told as missing too."""
    candidates = list(known)
    found = (likely(key, candidates) for key in unknown)
    return {keys[0] for keys in found if len(keys) == 1}


def suggestion(key: str, known: Iterable[str], written: Iterable[str], otherwise: str) -> str:
    """The remedy for an unknown key; a key that is written already was hardly meant, unless it is spelt alike."""
    absent = [each for each in known if each not in written]
    found = likely(key, absent) or _spelt(key, {_stem(each): each for each in known}, ALIKE)
    return f"Did you mean {' or '.join(found)}?" if found else otherwise


def _stem(key: str) -> str:
    words = key.lower().split("_")
    while len(words) > 1 and words[-1] in UNITS:
        words.pop()
    return "_".join(words)


def _spelt(key: str, stems: dict[str, str], cutoff: float) -> list[str]:
    return [stems[stem] for stem in get_close_matches(_stem(key), stems, n=1, cutoff=cutoff)]
