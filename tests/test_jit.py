"""Compiled formulas: the same number by itself, as an array, from a fresh cache and from a warm one."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import overbank
from overbank._jit import PIECE, cache_folder, kernel_sources, run_rows, sweep
from overbank.hydraulics.clean_screens import kirschmer
from overbank.hydraulics.weirs import road_flow

PACKAGE = Path(overbank.__file__).parent

ASK = """
from overbank._jit import sweep
from overbank.hydraulics.clean_screens import kirschmer
print({how}(2.42, 0.020, 0.125, 60.0))
"""


@pytest.mark.parametrize("order", [("kirschmer", "sweep(kirschmer)"), ("sweep(kirschmer)", "kirschmer")], ids=str)
def test_a_formula_and_its_sweep_do_not_take_each_others_code_from_the_disk(
    tmp_path: Path, order: tuple[str, str]
) -> None:
    """Each in a process of its own, the second with a cache that the first has filled; then both again."""
    said = []
    for how in (*order, *order):
        command = [sys.executable, "-c", ASK.format(how=how)]
        environment = {**os.environ, "OVERBANK_CACHE": str(tmp_path)}
        done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False, timeout=60)
        assert done.returncode == 0, f"{how}: exit status {done.returncode} {done.stderr}"
        said.append(float(done.stdout))
    assert said == [kirschmer.py_func(2.42, 0.020, 0.125, 60.0)] * 4  # type: ignore[attr-defined]


def test_arrays_give_what_numbers_give() -> None:
    heads = np.linspace(-0.1, 1.0, 50)
    alone = [road_flow(head, 0.2, 14.0, 1.5) for head in heads]
    np.testing.assert_array_equal(sweep(road_flow)(heads, 0.2, 14.0, 1.5), alone)


def test_arrays_broadcast_and_a_missing_number_gives_a_missing_result() -> None:
    heads = np.array([[0.2], [np.nan]])
    found = sweep(road_flow)(heads, np.array([0.0, 0.1, 0.2]), 14.0, 1.5)
    assert found.shape == (2, 3)
    np.testing.assert_array_equal(found[0], [road_flow(0.2, below, 14.0, 1.5) for below in (0.0, 0.1, 0.2)])
    assert np.isnan(found[1]).all()
    with pytest.raises(TypeError, match="road_flow: expected 4 numbers or arrays; got 3"):
        sweep(road_flow)(heads, 0.1, 14.0)


def test_formulas_of_one_name_do_not_take_each_others_code_from_the_disk(tmp_path: Path) -> None:
    """Two formulas of two files share their name, line and arguments."""
    for name, factor in (("first", 2), ("second", 3)):
        text = f"from overbank._jit import kernel\n\n@kernel\ndef times(x: float) -> float:\n    return {factor} * x\n"
        (tmp_path / f"{name}.py").write_text(text, encoding="utf-8")
    code = "from overbank._jit import sweep; import first, second; print(sweep(first.times)(1), sweep(second.times)(1))"
    environment = {**os.environ, "OVERBANK_CACHE": str(tmp_path), "PYTHONPATH": str(tmp_path)}
    for _ in ("compiled", "from the disk"):
        said = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True)
        assert said.stdout.split() == ["2.0", "3.0"]


@pytest.mark.parametrize("threads", ["1", "2", "7"])
def test_rows_do_not_depend_on_the_threads(monkeypatch: pytest.MonkeyPatch, threads: str) -> None:
    """Every sample once and in its place, for numbers of samples on both sides of a piece."""
    monkeypatch.setenv("OVERBANK_THREADS", threads)

    def rows(inputs: np.ndarray, results: np.ndarray) -> None:
        results[0] = 2.0 * inputs[0] + inputs[1]

    for samples in (1, PIECE - 1, PIECE, PIECE + 1, 5 * PIECE + 3):
        for shift in (0.5, np.array([0.5])):  # a number, and an array of one
            (found,) = run_rows(rows, [np.arange(samples, dtype=float), shift], 1, samples)
            np.testing.assert_array_equal(found, 2.0 * np.arange(samples) + 0.5)


def package_imports(path: Path) -> set[Path]:
    """The files of the package that a file imports."""
    found: set[Path] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("overbank"):
            names = [node.module or "", *(f"{node.module}.{alias.name}" for alias in node.names)]
            found |= {PACKAGE.parent / f"{name.replace('.', '/')}.py" for name in names}
    return {file for file in found if file.is_file()}


def test_every_compiled_file_and_all_that_it_imports_are_in_the_name_of_the_cache() -> None:
    """Numbers of another file are compiled in, so a change there must not meet old code."""
    declaring = {
        path
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef)
        and any(isinstance(mark, ast.Name) and mark.id == "kernel" for mark in node.decorator_list)
    }
    assert len(declaring) > 20
    needed, waiting = set(declaring), set(declaring)
    while waiting:
        imported = package_imports(waiting.pop()) - needed
        needed |= imported
        waiting |= imported
    assert needed - {PACKAGE / "errors.py"} <= set(kernel_sources())


def test_compiled_code_is_kept_under_a_name_that_follows_the_sources(tmp_path: Path) -> None:
    """A copy of the package with one formula changed keeps its compiled code elsewhere."""
    names = []
    for change in ("", "\n# changed\n"):
        package = tmp_path / f"copy{len(change)}" / "overbank"
        original = Path(sys.modules["overbank._jit"].__file__ or "").parent
        for part in ("__init__.py", "_jit.py", "constants.py", "hydraulics/weirs.py"):
            target = package / part
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text((original / part).read_text(encoding="utf-8") + change, encoding="utf-8")
        code = "from overbank._jit import cache_folder; print(cache_folder())"
        environment = {**os.environ, "PYTHONPATH": str(package.parent), "OVERBANK_CACHE": str(tmp_path / "cache")}
        said = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True)
        names.append(said.stdout)
    assert names[0] != names[1]
    assert str(cache_folder()) not in names
