"""What all benchmarks share: the one table at the end, and the columns of pytest-benchmark's own."""

from __future__ import annotations

import pytest

from benchmarks.table import Table

TABLE = pytest.StashKey[Table]()


def pytest_configure(config: pytest.Config) -> None:
    config.stash[TABLE] = Table()
    config.option.benchmark_columns = ["min", "median", "rounds"]


@pytest.fixture
def table(request: pytest.FixtureRequest) -> Table:
    """Where a benchmark puts its lines."""
    return request.config.stash.setdefault(TABLE, Table())


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    table = config.stash.get(TABLE, Table())
    if table.lines:
        terminalreporter.section("overbank beside its rivals")
        for line in table.printed():
            terminalreporter.write_line(line)
