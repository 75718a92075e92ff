"""The table that a run of the benchmarks ends with: what, ours, the rival, their ratio, the goal, whether it is met.

The goals are those of the design. Ratios are asserted; times by the clock are shown, for they depend on the machine.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from pytest_benchmark.fixture import BenchmarkFixture

OURS = "overbank"
"""Our name in every group of pytest-benchmark."""

HEADS = ("what", "ours", "rival", "ratio", "goal", "met")

Line = tuple[str, str, str, str, str, str]


def spoken(seconds: float) -> str:
    """A time with three figures that count."""
    for scale, unit in ((1.0, "s"), (1e-3, "ms")):
        if seconds >= scale:
            return f"{seconds / scale:.3g} {unit}"
    return f"{seconds * 1e6:.3g} µs"


@dataclass
class Table:
    """Lines as the benchmarks find them.

    seconds : best round of every group and name that pytest-benchmark has timed
    """

    lines: list[Line] = field(default_factory=list)
    seconds: dict[tuple[str, str], float] = field(default_factory=dict)

    def time(
        self, benchmark: BenchmarkFixture, group: str, name: str, run: Callable[[], object], rounds: int, warm: int = 1
    ) -> float:
        """Time `run` in so many rounds, after as many to warm up, under its name in a group; the best round [s]."""
        benchmark.group, benchmark.name = group, name
        benchmark.pedantic(run, rounds=rounds, warmup_rounds=warm)
        assert benchmark.stats is not None, "expected benchmarks that are not disabled"
        self.seconds[group, name] = benchmark.stats.stats.min
        return self.seconds[group, name]

    def times_faster(self, group: str, rival: str, least: float | None, of: int = 1) -> None:
        """Ours beside a rival of the same group, a sample of so many; assert the goal where there is one."""
        assert (group, OURS) in self.seconds, f"expected ours of {group!r} to be timed first: run the whole file"
        ours, theirs = self.seconds[group, OURS], self.seconds[group, rival]
        each = " a sample" if of > 1 else ""
        own, other = (spoken(seconds / of) + each for seconds in (ours, theirs))
        self.ratio(f"{group}: {rival}", own, other, theirs / ours, least)

    def ratio(self, what: str, ours: str, rival: str, ratio: float, least: float | None) -> None:
        """A ratio that should be at least so large; asserted where there is a goal."""
        goal = "" if least is None else f"{least:g} or more"
        met = least is None or ratio >= least
        self.lines.append((what, ours, rival, f"{ratio:.3g}", goal, "" if least is None else _yes(met)))
        assert met, f"{what}: {ratio:.3g} times, the goal is {goal}"

    def at_most(self, what: str, value: float, most: float, unit: str) -> bool:
        """A figure that should be no larger; True where it is."""
        self.lines.append((what, f"{value:.3g} {unit}", "", "", f"{most:g} {unit} or less", _yes(value <= most)))
        return value <= most

    def share(self, what: str, seconds: float, whole: float) -> None:
        """A part of a run and its share of the time."""
        self.lines.append((what, spoken(seconds), "", f"{seconds / whole:.1%}", "", ""))

    def printed(self) -> list[str]:
        """The table, a string a line."""
        rows = [HEADS, *self.lines]
        widths = [max(len(row[k]) for row in rows) for k in range(len(HEADS))]
        written = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
        return [written[0], "  ".join("-" * width for width in widths), *written[1:]]


def _yes(met: bool) -> str:
    return "yes" if met else "NO"
