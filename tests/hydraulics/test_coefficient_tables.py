"""The tables of coefficients: complete, sourced, and equal to what other publications say."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from fluids.open_flow import n_excavated_dredged, n_lined_built, n_natural

from facts import each_holds
from overbank.errors import DomainError
from overbank.hydraulics.tables import InletEntry, inlet_edges, inlets, read_table, table_names

HOW_KNOWN = {
    "read in the source",
    "read second hand",
    "from memory, unverified",
    "computed independently",
    "own proposal, not published",
    "common practice, no source",
}
ALL_ROWS = [(name, row) for name in table_names() for row in read_table(name)]


def says_where_it_comes_from(entry: tuple[str, Mapping[str, str]]) -> None:
    name, row = entry
    assert row["source"], name
    assert row["how_known"] in HOW_KNOWN
    assert row["verified"] in ("true", "false")
    if row["verified"] == "true":
        assert row["how_known"] in ("read in the source", "computed independently")
    assert None not in row, "more cells than columns"
    assert None not in row.values(), "fewer cells than columns"


def test_every_row_says_where_it_comes_from() -> None:
    each_holds(ALL_ROWS, says_where_it_comes_from, lambda entry: f"{entry[0]}-{entry[1]['id']}")


def has_unique_ids(name: str) -> None:
    ids = [row["id"] for row in read_table(name)]
    assert len(ids) == len(set(ids))


def test_ids_are_unique_within_a_table() -> None:
    each_holds(table_names(), has_unique_ids)


def test_unknown_table_names_those_that_exist() -> None:
    with pytest.raises(DomainError, match="inlets"):
        read_table("outlets")


def test_no_inlet_is_lost_between_file_and_reader() -> None:
    assert len(read_table("inlets")) == 61
    shapes = ("pipe", "box", "arch", "ellipse", "pipe_arch", "egg", "horseshoe", "traced")
    assert len(inlets()) == sum(len(inlet_edges(shape)) for shape in shapes) == 61 + 6 + 1  # rows of two shapes
    assert inlet_edges("bottle") == []


def test_inlet_is_found_by_plain_words() -> None:
    entry = inlets()["box", "wingwalls 30 to 75 deg"]
    # FHWA HDS-5, 2nd edition 2001, table 9 (chart 8, scale 1) and table 12
    assert (entry.form, entry.K, entry.M, entry.c, entry.Y) == (1, 0.026, 1.0, 0.0347, 0.81)
    assert entry.slope_factor == -0.5
    assert entry.entrance_loss == 0.4
    assert entry.verified


def obeys_the_physics(entry: InletEntry) -> None:
    mitred = "mitred" in entry.edge
    assert entry.slope_factor == (0.7 if mitred else -0.5)
    assert entry.form in (1, 2)
    # A rectangular inlet needs at least critical energy, 1.5 yc / D = 0.4716 q^(2/3) (closed form).
    if entry.form == 2 and entry.shape == "box":
        assert entry.M == 0.667
        assert entry.K > 0.4716
    # Drowned at q = 4 the head is higher than where the other equation ends (q = 3.5): HDS-5, p. 191.
    if entry.form == 2:
        assert entry.c * 16.0 + entry.Y > entry.K * 3.5**entry.M


def test_inlet_constants_obey_the_physics() -> None:
    each_holds(inlets().values(), obeys_the_physics, lambda entry: entry.id)


def has_an_entrance_loss_of_the_table(entry: InletEntry) -> None:
    losses = {float(row["entrance_loss"]) for row in read_table("entrance_losses")}
    assert entry.entrance_loss in losses
    assert entry.entrance_loss_source
    assert entry.entrance_loss_how_known in HOW_KNOWN


def test_entrance_loss_is_a_value_of_its_table() -> None:
    each_holds(inlets().values(), has_an_entrance_loss_of_the_table, lambda entry: entry.id)


def test_better_edges_lose_less_in_inlet_and_outlet_control() -> None:
    """Closed form of the submerged equation at q = 5, S = 0; order of Ke from HDS-5, table 12."""

    def ratio(shape: str, edge: str) -> float:
        entry = inlets()[shape, edge]
        return entry.c * 25.0 + entry.Y

    box = ("tapered throat", "headwall, 45 deg bevels", "wingwalls 90 or 15 deg")
    heads = [ratio("box", edge) for edge in box]
    assert heads == sorted(heads)
    losses = [inlets()["box", edge].entrance_loss for edge in box]
    assert losses == sorted(losses)
    metal = ("headwall", "mitred to slope", "projecting")
    losses = [inlets()["pipe", f"corrugated metal, {edge}"].entrance_loss for edge in metal]
    assert losses == sorted(losses)


def test_channel_roughness_is_chows_as_the_library_has_it() -> None:
    published = {
        triple
        for table in (n_natural, n_excavated_dredged, n_lined_built)
        for group in table.values()
        for triple in group.values()
    }
    for row in read_table("channel_roughness"):
        assert (float(row["low"]), float(row["normal"]), float(row["high"])) in published, row["id"]


def is_ordered(row: Mapping[str, str]) -> None:
    low, high = float(row["low"]), float(row["high"])
    assert 0.008 < low < high < 0.05
    if row["mode"]:
        assert low <= float(row["mode"]) <= high


def test_barrel_roughness_is_ordered() -> None:
    each_holds(read_table("barrel_roughness"), is_ordered, lambda row: row["id"])


def test_suggested_roughness_covers_the_laboratory_range() -> None:
    rows = {row["id"]: row for row in read_table("barrel_roughness")}
    for name, row in rows.items():
        if name.endswith("_laboratory"):
            suggested = rows[name.replace("_laboratory", "_input")]
            middle = 0.5 * (float(row["low"]) + float(row["high"]))
            assert float(suggested["low"]) <= middle <= float(suggested["high"]), name


def test_blockage_never_falls_with_debris_potential() -> None:
    order = {"low": 0, "medium": 1, "high": 2}
    groups: dict[tuple[str, str], list[tuple[int, float]]] = {}
    for row in read_table("blockage_guidance"):
        share = float(row["most_likely_blockage"])
        assert 0.0 <= share <= 1.0
        groups.setdefault((row["part"], row["class"]), []).append((order[row["debris_potential"]], share))
    for pairs in groups.values():
        shares = [share for _, share in sorted(pairs)]
        assert len(shares) == 3
        assert shares == sorted(shares)


def test_debris_potential_rises_with_the_flood() -> None:
    """Two adjustments of Australian Rainfall and Runoff, Book 6, chapter 6 (from memory, unverified)."""
    adjusted = {
        (row["flood"], row["potential_at_one_percent"]): row["adjusted_potential"]
        for row in read_table("debris_potentials")
    }
    assert adjusted["more frequent than 5 % a year", "high"] == "medium"
    assert adjusted["rarer than 0.5 % a year", "medium"] == "high"
    assert len(adjusted) == 9


def test_drag_on_bars_falls_from_sharp_to_streamlined() -> None:
    factors = {row["id"]: float(row["shape_factor"]) for row in read_table("bar_shapes")}
    names = ("rectangle", "round_upstream", "circle", "round_both", "streamlined_1", "streamlined_3")
    kirschmer = [factors[f"kirschmer_{name}"] for name in names]
    assert kirschmer == sorted(kirschmer, reverse=True)


def test_hazard_classes_widen() -> None:
    limits = [float(row["depth_velocity_m2_s"]) for row in read_table("hazard_classes") if row["depth_m"]]
    assert limits == sorted(limits)
    ratings = read_table("hazard_ratings")
    assert [row["rating_high"] for row in ratings[:-1]] == [row["rating_low"] for row in ratings[1:]]
