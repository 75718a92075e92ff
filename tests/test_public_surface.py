"""The public surface is small, sorted and there, and importing it costs nothing."""

from __future__ import annotations

import subprocess
import sys

import pytest

import overbank

HEAVY = ("numpy", "numba", "scipy", "pandas", "matplotlib", "pydantic", "SALib", "chaospy", "pyarrow", "typer", "rich")


def test_surface_is_small_and_sorted() -> None:
    assert len(overbank.__all__) < 25
    assert sorted(overbank.__all__, key=str) == overbank.__all__
    assert sorted(overbank._HOMES) == overbank.__all__


@pytest.mark.parametrize("name", overbank.__all__)
def test_every_name_imports_and_explains_itself(name: str) -> None:
    value = getattr(overbank, name)
    assert value.__doc__
    assert getattr(overbank, name) is value


def test_all_is_what_imports() -> None:
    """Nothing public is reachable by a star import that __all__ does not list, and the other way round."""
    space: dict[str, object] = {}
    exec("from overbank import *", space)
    assert sorted(set(space) - {"__builtins__"}) == overbank.__all__
    assert set(dir(overbank)) == {*overbank.__all__, "__version__"}


def test_an_unknown_name_is_an_ordinary_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'runn'"):
        overbank.runn  # noqa: B018


def test_import_fetches_nothing_heavy() -> None:
    code = f"import sys, overbank; print([name for name in {HEAVY} if name in sys.modules])"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert said.stdout.strip() == "[]"
