"""Names with US customary units at their end, and the same in SI: `width_ft` and `width_in` for `width_m`.

The foot is the international one, 0.3048 m exactly, and the inch a twelfth of it (US Federal Register 59-5442, 1959;
from memory, unverified).
"""

from __future__ import annotations

from collections.abc import Collection

from overbank.study.reading.lines import KeyPath

FOOT, INCH = 0.3048, 0.0254

UNITS: dict[str, tuple[str, float]] = {
    "_ft3_s": ("_m3_s", FOOT**3),
    "_ft_per_hour": ("_m_per_hour", FOOT),
    "_ft_s": ("_m_s", FOOT),
    "_ft3": ("_m3", FOOT**3),
    "_ft2": ("_m2", FOOT**2),
    "_ft": ("_m", FOOT),
    "_in": ("_m", INCH),
}
"""End of a key in US customary units, the end of its twin in SI, and how much of the SI unit one of them is."""


def in_si(name: str) -> tuple[str, float] | None:
    """The SI twin of a key or a head, and the factor to it; None where the name has no US unit at its end."""
    end = next((end for end in UNITS if name.endswith(end)), None)
    return None if end is None else (name.removesuffix(end) + UNITS[end][0], UNITS[end][1])


def twins(name: str) -> tuple[str, ...]:
    """The keys in US units that stand for a key in SI."""
    return tuple(name.removesuffix(si) + end for end, (si, _) in UNITS.items() if name.endswith(si))


def as_written(path: KeyPath, lines: Collection[KeyPath]) -> KeyPath:
    """A path in SI by the keys that the file has in its place."""
    found: KeyPath = ()
    for step in path:
        each = (step, *twins(step)) if isinstance(step, str) else (step,)
        found = (*found, next((name for name in each if (*found, name) in lines), step))
    return found


def twin_heads(header: tuple[str, ...], written: Collection[str]) -> tuple[tuple[str, ...], tuple[float, ...]]:
    """The wanted heads of a table as its file has them, in SI or US units, and the factor of each column to SI."""
    heads = [next((name for name in (wanted, *twins(wanted)) if name in written), wanted) for wanted in header]
    return tuple(heads), tuple(1.0 if (found := in_si(head)) is None else found[1] for head in heads)
