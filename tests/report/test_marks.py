"""Flags above a plot never cover each other and no pole crosses a flag."""

from __future__ import annotations

import time

import numpy as np

from facts import each_holds
from overbank.report.marks import GAP, ROWS, TRIED, Flag, Flown, flown
from overbank.report.style import SMALL, text_width

WIDTH, SPARE = 6.0, 0.25


def span(placed: Flown) -> tuple[float, float]:
    length = text_width(placed.flag.words, SMALL) + GAP
    return (placed.pole - length, placed.pole) if placed.leftwards else (placed.pole, placed.pole + length)


def keep_apart(placed: list[Flown]) -> None:
    for each in placed:
        left, right = span(each)
        for other in placed:
            if other is each:
                continue
            low, high = span(other)
            if each.row == other.row:
                assert right <= low + 1e-9 or high <= left + 1e-9
            if left < other.pole < right:
                assert other.row < each.row


def flags_keep_apart(seed: int) -> None:
    random = np.random.default_rng(seed)
    count = int(random.integers(1, 6))
    flags = [Flag(float(at), "w" * int(random.integers(4, 28)), "") for at in random.uniform(0.0, 1.0, count)]
    placed = flown(flags, (0.0, 1.0), WIDTH, SPARE)
    assert [each.flag for each in placed] == flags
    keep_apart(placed)


def test_flags_keep_apart() -> None:
    each_holds(range(40), flags_keep_apart)


def many_flags_keep_apart_and_stay_on_the_sheet(seed: int) -> None:
    random = np.random.default_rng(seed)
    count = int(random.integers(7, 40))
    words = ["w" * int(random.integers(4, 28)) for _ in range(count)]
    flags = [
        Flag(float(at), each, "", short="ww") for at, each in zip(random.uniform(0.0, 1.0, count), words, strict=True)
    ]
    placed = flown(flags, (0.0, 1.0), WIDTH, SPARE)
    assert len({each.flag.at for each in placed}) == len(placed) >= min(7, count)
    assert all(span(each)[0] >= 0.0 and span(each)[1] <= WIDTH + SPARE for each in placed)
    assert max(each.row for each in placed) < ROWS
    keep_apart(placed)


def test_many_flags_keep_apart_and_stay_on_the_sheet() -> None:
    each_holds(range(20), many_flags_keep_apart_and_stay_on_the_sheet)


def test_ten_flags_that_cannot_all_be_long_are_all_there() -> None:
    flags = [Flag(k / 9.0, f"a{k}: culvert, bank 31.20 m", "", short=f"a{k}") for k in range(10)]
    placed = flown(flags, (0.0, 1.0), WIDTH, SPARE)
    assert sorted(each.flag.at for each in placed) == sorted(flag.at for flag in flags)
    assert {each.flag.words for each in placed} & {flag.short for flag in flags}
    keep_apart(placed)


def test_flags_without_number_take_no_time() -> None:
    """Each flag more once took 2.5 times as long, so that 15 took minutes; now a bounded number is tried."""
    flags = [Flag(k / 1999.0, f"a{k}: culvert, bank 31.20 m", "", short=f"a{k}") for k in range(2000)]
    begun = time.process_time()
    placed = flown(flags, (0.0, 1.0), WIDTH, SPARE)
    assert time.process_time() - begun < 20.0  # a second or two; trying all combinations never ended
    assert 0 < len(placed) <= TRIED


def test_flags_stay_on_the_sheet_where_they_can() -> None:
    placed = flown([Flag(0.02, "x" * 20, ""), Flag(0.98, "x" * 20, "")], (0.0, 1.0), WIDTH, SPARE)
    assert [each.leftwards for each in placed] == [False, True]
    assert [each.row for each in placed] == [0, 0]


def test_no_flags_need_no_row() -> None:
    assert flown([], (0.0, 1.0), WIDTH, SPARE) == []
