"""The public surface is small, sorted and there, and importing it costs nothing."""

from __future__ import annotations

import doctest
import subprocess
import sys
from pathlib import Path

import pytest

import overbank
from small import SMALL

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


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    """What the examples of the docstrings begin with: a study, its outcome from few samples, and a folder."""
    study = overbank.read_study("studies/quillet-lane")
    folder = tmp_path_factory.mktemp("examples")
    few = study.with_samples(256)
    (folder / "studies" / "one").mkdir(parents=True)
    (folder / "studies" / "one" / "study.toml").write_text(SMALL.replace("4096", "128"), encoding="utf-8")
    return {"overbank": overbank, "study": study, "outcome": overbank.run_study(few), "folder": folder}


@pytest.mark.parametrize("name", overbank.__all__)
def test_every_name_has_an_example_that_holds(
    name: str, shown: dict[str, object], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(Path(__file__).parents[1])
    found = doctest.DocTestFinder(recurse=False).find(getattr(overbank, name), name, globs=dict(shown))
    assert found
    assert found[0].examples
    said: list[str] = []
    doctest.DocTestRunner().run(found[0], out=said.append)
    assert not said, "".join(said)
