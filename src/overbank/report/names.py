"""Numbers of a study in plain words, with the unit that their name states."""

from __future__ import annotations

from typing import NamedTuple

from overbank.study.kinds import KINDS

SUFFIXES = (("_m3_s", "m³/s"), ("_m2", "m²"), ("_deg", "°"), ("_m", "m"))

WORDS = {
    "design_m3_s": "design flow",
    "climate_factor": "climate factor",
    "annual": "largest flow of a year",
    "manning_n": "Manning's n",
    "blockage": "blocked share",
    "pattern": "pattern of the blockage",
    "coefficient": "weir coefficient",
    "count": "number of barrels or openings",
    "method": "rule that combines the roughness of its zones",
    "shift_m": "shift of the survey",
    "rating_shift_m": "shift of the rating",
    "side_slope": "side slope, across per up",
}

UNITS = {
    "annual": "m³/s",
    "manning_n": "s/m^(1/3)",
    "coefficient": "m^0.5/s",
}

OF_KINDS = {key: named for kind in KINDS.values() for key, named in kind.table.NAMES.items()}
"""What the kinds of element call their own numbers."""

PARTS = {"normal_depth": "normal depth", "asked": "asked for"}


class PlainName(NamedTuple):
    """A number's name taken apart.

    group : first part of its dotted path: flow, tailwater or the id of an element
    part : barrel, inlet, screen, road, normal depth, or nothing
    words : the number itself in plain words
    unit : empty for a pure number
    """

    group: str
    part: str
    words: str
    unit: str

    @property
    def in_full(self) -> str:
        """The part and the words."""
        return f"{self.part}, {self.words}" if self.part else self.words

    @property
    def with_unit(self) -> str:
        """The words and the unit in brackets."""
        return f"{self.words} [{self.unit}]" if self.unit else self.words


def plain_name(path: str) -> PlainName:
    """The dotted path of a number in plain words."""
    group, *parts, key = path.split(".")
    suffix, unit = next((pair for pair in SUFFIXES if key.endswith(pair[0])), ("", ""))
    plain = WORDS.get(key) or key.removesuffix(suffix).replace("_", " ")
    words, unit = OF_KINDS.get(key, (plain, UNITS.get(key, unit)))
    part = ", ".join(PARTS.get(part, part.replace("_", " ")) for part in parts if part != "section")
    return PlainName(group, part, words, unit)
