"""The shape of a bridge's piers as a study names it, which gives the losses on the way in and out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from overbank.hydraulics.afflux import pier_losses
from overbank.hydraulics.tables import read_table
from overbank.study.reading.refusals import LocatedRefusal, choose, list_of, refusal, shown

LOSSES = ("contraction_loss", "expansion_loss")


def pier_shapes() -> dict[str, Mapping[str, str]]:
    """Rows of the table of pier shapes whose coefficient was read in a source, by their word."""
    return {row["pier"]: row for row in read_table("pier_shapes") if row["verified"] == "true"}


def with_pier_losses(raw: Any) -> Any:
    """The table of a bridge with the losses that the shape of its piers gives."""
    row = pier_shapes().get(str(raw.get("pier_shape"))) if isinstance(raw, dict) else None
    if row is None or any(key in raw for key in LOSSES):
        return raw
    k = float(row["yarnell_k"])
    basis = f"pier_shape: Yarnell's K {k:g}, {row['source']} ({row['how_known']}); matched at Fr 0.3 and a tenth taken"
    given = {key: {"value": loss, "basis": basis} for key, loss in zip(LOSSES, pier_losses(k), strict=True)}
    return {**raw, **given}


def pier_faults(raw: dict[str, Any]) -> Iterator[LocatedRefusal]:
    """A shape that is not in the table, beside losses that are given, or of a bridge without a pier."""
    if "pier_shape" not in raw:
        return
    shape, shapes = raw["pier_shape"], tuple(pier_shapes())
    if isinstance(shape, str) and shape not in shapes:
        yield ("pier_shape",), refusal(list_of(shapes), shown(shape), choose(shape, shapes))
    if given := [key for key in LOSSES if key in raw]:
        yield (given[0],), refusal(f"pier_shape or {given[0]}", "both", "Keep one: the losses belong to the shape.")
    groups = [raw.get("opening"), raw.get("side_opening"), *_listed(raw.get("further_openings"))]
    counts = [each.get("count", 1) for each in groups if isinstance(each, dict)]
    if counts == [1]:
        yield ("pier_shape",), refusal("pier_shape only of two openings or more", "one opening", "Remove it.")


def _listed(written: Any) -> list[Any]:
    return written if isinstance(written, list) else []
