"""Sound studies with slips of every kind: each is refused in words, or checked, and some are run; nothing hangs.

Kinds: two numbers exchanged, a number scaled, an extreme, a negative one, another literal in its place, all levels of
one element on another datum, an element that stands there several times. Some that pass are run, to the last file of
their results. What raises anything else is counted as a fault, with its study, and the others still run.
"""

from __future__ import annotations

import json
import math
import random
import resource
import time
import tomllib
import traceback
from collections import Counter
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from overbank.errors import OverbankError, StudyError
from overbank.outputs.medians import deterministic_run
from overbank.results import write_results
from overbank.run import run
from overbank.study.load import read_study
from overbank.study.reading.lines import KeyPath
from small import ROAD, SMALL, edited

from .river import BELOW, MEADOW, RIVER
from .sound import SOUND
from .test_flow import FLOODS
from .test_hostile_files import within
from .test_mutations import parent, places, written
from .test_outlet_and_profiles import BARS, CREST, FLAP, LEVEL, PROFILE, UNEVEN

LONGEST, MOST_MEMORY = 30, 2e9
"""A study hangs after so long [s]; nothing takes so much memory [bytes]."""

WORTH = 10
"""A run in full may take so long for every so many elements: what is repeated forty times is run forty times."""

PIECES, OF_A_PIECE = 20, 500
"""The many slips, in pieces with a seed each, so that what is counted stays counted."""

RUN_EVERY = 50
"""Of so many mutated studies that pass the check one is run in full, with few samples, and its results are written."""

FAULT = "FAULT"

SCALES = (1000.0, 0.001, 100.0, 0.01, 10.0, 0.1, 0.3048, 1.0 / 0.3048, 60.0)
EXTREMES = (
    *(0, 1e-300, 5e-324, 1e-15, 1e-9, 1e6, 1e9, 1e15, 1e300, 1.7e308, 2**63, 10**400),
    *(math.inf, -math.inf, math.nan),
)
LITERALS = (
    *(True, "", "2.4", "2,4", "2.4 m", "nan", [], [1.0], {}, {"value": 2.4}, {"value": "2.4"}),
    *("\u0662", "\x1b[2J"),
)

OURS = Path(__file__).parents[2] / "studies"
SMALL_FILES = {"below.csv": BELOW, "meadow.csv": MEADOW, "road.csv": PROFILE, "crest.csv": CREST}
BY_PROFILE = '[element.road]\nprofile = "road.csv"\n\n'


def with_its_files(study: Path) -> tuple[str, dict[str, str]]:
    """The text of a study of ours, and the files beside it that a study may name."""
    near = [*study.parent.glob("*.csv"), *study.parent.glob("requirements.toml")]
    return study.read_text(encoding="utf-8"), {file.name: file.read_text(encoding="utf-8") for file in near}


NO_STUDIES = ("requirements.toml", "defaults.toml")
"""What stands beside studies and registers."""

BASES: tuple[tuple[str, dict[str, str]], ...] = (
    *((text, SMALL_FILES) for text in (SMALL, SOUND, RIVER, FLOODS)),
    (edited((ROAD, f"{BY_PROFILE}{FLAP}{BARS}")), SMALL_FILES),
    (RIVER.replace(LEVEL, UNEVEN), SMALL_FILES),
    *(with_its_files(file) for file in sorted(OURS.glob("*/*.toml")) if file.name not in NO_STUDIES),
)
"""Small studies of other tests, two of them with newer parts, and every study of ours: text, and files beside it."""

Mutation = Callable[[Any, random.Random], None]


def numbers(document: Any) -> list[KeyPath]:
    """Every place of a document where a number stands."""
    found = ((path, parent(document, path)[path[-1]]) for path in places(document))
    return [path for path, value in found if isinstance(value, int | float) and not isinstance(value, bool)]


def put(document: Any, chance: random.Random, change: Callable[[float], Any]) -> None:
    path = chance.choice(numbers(document))
    table = parent(document, path)
    table[path[-1]] = change(table[path[-1]])


def swap(document: Any, chance: random.Random) -> None:
    one, other = (chance.choice(numbers(document)) for _ in range(2))
    first, second = parent(document, one), parent(document, other)
    first[one[-1]], second[other[-1]] = second[other[-1]], first[one[-1]]


def scale(document: Any, chance: random.Random) -> None:
    put(document, chance, lambda value: value * chance.choice(SCALES))


def extreme(document: Any, chance: random.Random) -> None:
    put(document, chance, lambda _: chance.choice(EXTREMES))


def negate(document: Any, chance: random.Random) -> None:
    put(document, chance, lambda value: -value)


def literal(document: Any, chance: random.Random) -> None:
    put(document, chance, lambda _: deepcopy(chance.choice(LITERALS)))


def shift_datum(document: Any, chance: random.Random) -> None:
    shift = chance.choice((-1000.0, -100.0, -1.0, 1.0, 100.0, 1000.0, 9000.0))
    part, place = chance.choice(("element", "tailwater", "flow")), chance.randrange(3)
    for path in numbers(document):
        here = path[0] == part and (part != "element" or path[1] == place)
        if here and str(path[-1]).endswith(("level_m", "invert_m", "mean")):
            parent(document, path)[path[-1]] += shift


def repeat(document: Any, chance: random.Random) -> None:
    elements = document["element"]
    own = chance.choice(elements)
    for number in range(chance.choice((1, 2, 10, 40))):
        elements.insert(chance.randrange(len(elements) + 1), {**deepcopy(own), "id": f"{own.get('id', 'x')}{number}"})


MUTATIONS: tuple[Mutation, ...] = (swap, scale, extreme, negate, literal, shift_datum, repeat)


def mutated(chance: random.Random) -> tuple[str, int, str, int]:
    """The kind of the last change, the number of a base, its text with one to three changes, and its elements."""
    base = chance.randrange(len(BASES))
    document = tomllib.loads(BASES[base][0])
    for _ in range(chance.choice((1, 1, 2, 3))):
        mutation = chance.choice(MUTATIONS)
        mutation(document, chance)
    document["run"] = {"samples": 64, "replicates": 2, "seed": 1}
    text = "\n".join(f"{key} = {written(value)}" for key, value in document.items())
    return mutation.__name__, base, text, len(document["element"])


def look(folder: Path, text: str, in_full: bool) -> str:
    """What became of a study: refused, checked, run, or refused by the run alone."""
    (folder / "study.toml").write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        study = read_study(folder)
    except StudyError as error:
        told = [part for fault in error.faults for part in (fault.place, fault.expected, fault.got, fault.remedy)]
        if not told or not all(told):
            raise AssertionError(f"a fault without words: {error.faults}") from error
        return "refused"
    json.dumps(deterministic_run(study).as_json(), allow_nan=False)
    if not in_full:
        return "checked"
    try:
        report = write_results(run(study), folder / "results")
    except OverbankError as error:
        return f"refused by the run: {str(error)[:120]}"
    json.loads((report.parent / "summary.json").read_text(encoding="utf-8"))
    return "run"


def folders_of_bases(folder: Path) -> list[Path]:
    """A folder for each base with its files; each is looked at once, for what is compiled first takes its own time."""
    made = []
    for number, (text, files) in enumerate(BASES):
        made.append(folder / str(number))
        made[-1].mkdir()
        for name, content in files.items():
            (made[-1] / name).write_text(content, encoding="utf-8")
        assert look(made[-1], text, False) == "checked"
    return made


def tried(folder: Path, count: int, seed: int, run_every: int = RUN_EVERY) -> Counter[tuple[str, str]]:
    """How many studies of each kind came to which end."""
    before, places = most_memory(), folders_of_bases(folder)
    chance, ends, passed, longest, faults = random.Random(seed), Counter[tuple[str, str]](), 0, 0.0, []
    for _ in range(count):
        kind, base, text, elements = mutated(chance)
        in_full = passed % run_every == run_every - 1
        start = time.process_time()
        try:
            with within(LONGEST * max(1, elements // WORTH) if in_full else LONGEST):
                end = look(places[base], text, in_full)
        except Exception:  # whatever it is, it is counted, and the others still run
            end = FAULT
            faults.append(f"{text}\n{traceback.format_exc()}")
        passed += end != "refused"
        longest = max(longest, time.process_time() - start)
        ends[kind, end] += 1
    memory = most_memory()
    print(f"\nseed {seed}: {count} studies, the longest {longest:.1f} CPU s, at most {memory / 1e9:.2f} GB of memory")
    for (kind, end), number in sorted(ends.items()):
        print(f"{number:6d} {kind}: {end}")
    assert not faults, "\n\n".join([f"{len(faults)} faults", *faults])
    assert memory <= max(MOST_MEMORY, before)  # other tests of this process may have taken more
    return ends


def most_memory() -> float:
    """The most that this process has ever held [bytes]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024.0


def test_a_few_slips_of_every_kind(tmp_path: Path) -> None:
    ends = tried(tmp_path, 120, 20261130, 1000)
    assert {kind for kind, _ in ends} == {mutation.__name__ for mutation in MUTATIONS}
    assert {end for _, end in ends} == {"refused", "checked"}


@pytest.mark.slow
@pytest.mark.parametrize("piece", range(PIECES))
def test_ten_thousand_slips(piece: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with capsys.disabled():
        ends = tried(tmp_path, OF_A_PIECE, 1700 + piece)
    assert ends.total() == OF_A_PIECE
    assert sum(number for (_, end), number in ends.items() if end != "refused") > OF_A_PIECE // 20
