"""One study for each way in which a headline figure was once wrong, with what is right: most by a closed form."""

from __future__ import annotations

from referee.bare_sites import Directed
from referee.directed_water import (
    between_two_shares,
    debris_with_the_flood,
    event_of_two,
    few_levels,
    no_way_through,
    partial_correlations,
    ruled_by_roughness,
    ruled_by_the_bank,
    seen_with_dependence,
    unknown_mean,
    with_tails,
)
from referee.directed_years import (
    all_shut,
    crowded_record,
    debris_anew,
    known_and_anew,
    lumps_with_the_flood,
    rare_in_a_year,
    shut_now_and_then,
    tide_in_each_flood,
)

ALL: tuple[Directed, ...] = (
    *(shut_now_and_then(2048), shut_now_and_then(16384), debris_anew(2048), debris_anew(16384)),
    known_and_anew(4096),
    debris_with_the_flood(),
    *(lumps_with_the_flood(rank_correlation) for rank_correlation in (-0.4, 0.5)),
    between_two_shares("largest below what is assumed", (4.2, 0.1), 31.45, 0.2, 0.9),
    between_two_shares("even clean exceeds the target", (4.6, 0.13), 31.35, 0.1, 0.95),
    between_two_shares("no blockage gives the level", (4.2, 0.5), 33.0, 0.2, 0.99),
    no_way_through(),
    *(all_shut(looks) for looks in (1, 19, 20)),
    unknown_mean(),
    seen_with_dependence(),
    rare_in_a_year(),
    few_levels(),
    *(tide_in_each_flood(kind) for kind in ("", "knowledge", "each flood")),
    crowded_record(),
    event_of_two(),
    *(ruled_by_the_bank(), ruled_by_roughness()),
    partial_correlations(),
    *(with_tails(word) for word in ("survival_clayton", "gumbel", "t")),
)
"""All of them; complaints 9 and 15 have tests of their own, for no figure shows them."""

MOST_SPREAD = 0.3
"""A rare probability is told when the half width of its interval is no more than this share of it."""
