"""`overbank --help` and the help of every command answer without fetching a heavy package; a check fetches few."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from test_public_surface import HEAVY

HELPERS = ("typer", "rich", "pydantic")
"""The help itself is theirs: typer looks for pydantic's types where a command has parameters."""

ASK = """
import sys
from overbank.commands.cli import main
sys.argv = ["overbank", *sys.argv[1:]]
try:
    main()
except SystemExit as end:
    assert end.code in (0, None), end.code
print([name for name in {heavy} if name in sys.modules], file=sys.stderr)
"""


@pytest.mark.parametrize("command", [(), ("new",), ("check",), ("run",)], ids=" ".join)
def test_help_fetches_nothing_heavy(command: tuple[str, ...]) -> None:
    heavy = tuple(name for name in HEAVY if name not in HELPERS)
    code = ASK.format(heavy=heavy)
    said = subprocess.run(
        [sys.executable, "-c", code, *command, "--help"], capture_output=True, text=True, check=True, timeout=60
    )
    assert "Usage: overbank" in said.stdout
    assert said.stderr.strip() == "[]"


def test_a_check_fetches_only_what_it_needs() -> None:
    """No tables of pandas, no statistics, no pictures."""
    study = Path(__file__).parents[1] / "studies" / "quillet-lane"
    code = ASK.format(heavy=("pandas", "scipy.stats", "matplotlib", "SALib", "chaospy", "pyarrow"))
    command = [sys.executable, "-c", code, "check", str(study)]
    said = subprocess.run(command, capture_output=True, text=True, check=True, timeout=120)
    assert "freeboard" in said.stdout
    assert said.stderr.splitlines()[-1] == "[]"
