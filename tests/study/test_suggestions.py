"""A key is suggested only where it is spelt alike or shares a word with what was written."""

from __future__ import annotations

import pytest

from overbank.study.reading.suggestions import likely, meant

BARREL = (
    "count",
    "length_m",
    "upstream_invert_m",
    "downstream_invert_m",
    "manning_n",
    "bed_manning_n",
    "span_m",
    "rise_m",
)


@pytest.mark.parametrize(
    ("key", "expected"),
    [
        ("lenght_m", ["length_m"]),
        ("length", ["length_m"]),
        ("length_mm", ["length_m"]),
        ("Span_m", ["span_m"]),
        ("us_invert_m", ["upstream_invert_m"]),
        ("inlet_invert_m", ["upstream_invert_m", "downstream_invert_m"]),
        ("manning", ["manning_n"]),
        ("bed_roughness", ["bed_manning_n"]),
        ("width_m", []),
        ("height_m", []),
        ("roughness", []),
        ("colour_m", []),
    ],
)
def test_what_is_likely_meant(key: str, expected: list[str]) -> None:
    assert likely(key, BARREL) == expected


def test_a_word_that_many_share_says_nothing() -> None:
    assert likely("bank_level_m", [f"{place}_level_m" for place in ("road", "crest", "bed", "sill")]) == []


def test_only_a_key_beyond_doubt_stands_for_one_that_is_missing() -> None:
    assert meant(["spam_m", "inlet_invert_m", "width_m"], BARREL) == {"span_m"}
