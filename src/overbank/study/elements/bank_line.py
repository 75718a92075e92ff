"""A bank along a reach as a study writes it: a profile of levels; what it gives the row, and what cannot be."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from pydantic import Field

from overbank.site import bank_line as site
from overbank.study.collect import Collected, Follower
from overbank.study.elements.extents import Extent, Reader, out_of_order, remedy
from overbank.study.elements.profiles import Profile, Shift, profile_of
from overbank.study.reading.numbers import Number, default
from overbank.study.reading.refusals import LocatedRefusal, number, refusal
from overbank.study.reading.table import Table


class BankLine(Table):
    """A bank whose level changes along the reach. The water goes over it where it stands highest above it."""

    profile: Profile = Field(
        description="the name of a CSV file with the header offset_m,level_m, from the downstream end of the reach up"
    )
    shift_m: Shift = default(
        0.0,
        "the levels of the profile as they stand",
        "what is added to every level of the survey or profile: the error of its datum [m]",
    )


def fill_bank(collected: Collected, bank: BankLine | None, element: str) -> None:
    """The level of the bank: that of the upstream end of its line."""
    if bank is None:
        return
    end = Number(bank.profile.levels[-1], basis=f"the upstream end of {bank.profile.name}")
    collected.add(f"{element}.bank.end_level_m", end)
    collected.follow(Follower(f"{element}.bank_level_m", f"{element}.bank.end_level_m", (f"{element}.bank.shift_m",)))


def bank_line(bank: BankLine | None) -> site.BankLine | None:
    """What the row takes of it."""
    if bank is None:
        return None
    offsets, levels = np.array(bank.profile.offsets), np.array(bank.profile.levels)
    return site.BankLine(np.column_stack([offsets, levels - levels[-1]]))


def impossible_bank(reader: Reader, raw: dict[str, Any], foot: Extent | None) -> Iterator[LocatedRefusal]:
    """A line beside a level bank, beyond the reach, or below its bed."""
    if "bank" not in raw:
        return
    path = (*reader.path, "bank", "profile")
    if "bank_level_m" in raw:
        yield (*reader.path, "bank"), refusal("bank_level_m, or a bank that follows a profile", "both", "Keep one.")
    points = profile_of(reader, raw["bank"], "profile")
    length, slope = reader.get("length", "length_m"), reader.get("slope", "bed_slope")
    if points is None or length is None:
        return
    if points.offsets[0] < 0.0 or points.offsets[-1] > length.low:
        expected = f"offsets from 0 to the length of the reach, {number(length.low)} m"
        got = f"{number(points.offsets[0])} to {number(points.offsets[-1])} m"
        yield path, refusal(expected, got, "Count them from the downstream end of the reach.")
    if not (foot and slope):
        return
    shift = reader.get("shift", "bank", "shift_m")
    for offset, level in zip(points.offsets, points.levels, strict=True):
        bed = foot.plus("bed", slope.times(Extent.certain("offset", max(offset, 0.0))))
        bank = Extent.certain("bank", level)
        bank = bank.plus("bank", shift) if shift else bank
        if wrong := out_of_order(bank, bed):
            yield path, refusal("a bank above the bed all along the reach", wrong, remedy(wrong))
            return


def seen_beside_a_line(elements: list[dict[str, Any]], document: dict[str, Any]) -> Iterator[LocatedRefusal]:
    """Observations, receptors and pools at a reach with such a bank: the level set against it is not theirs."""
    lined = [each.get("id") for each in elements if "bank" in each]
    banks = [each.get("id") for each in elements if "bank" in each or "bank_level_m" in each]
    decision, flow = document.get("decision"), document.get("flow")
    place = decision.get("at") if isinstance(decision, dict) else None
    place = place or next(iter(banks), None)
    what = "a level upstream of an element without a bank that follows a profile"
    todo = "Cut the reach there: give the place an element of its own."
    for key in ("observation", "receptor"):
        entries = document.get(key)
        for index, entry in enumerate(entries if isinstance(entries, list) else []):
            at = (entry.get("at") or place) if isinstance(entry, dict) else None
            if at is not None and at in lined:
                yield (key, index, "at"), refusal(what, f"{at}, which has one", todo)
    if isinstance(flow, dict) and "pool" in flow and place in lined:
        yield ("flow", "pool"), refusal(what, f"{place}, which has one, as the place of a pool", todo)
