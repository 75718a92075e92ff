"""Plausible mistakes of a hand that types a study, and what is said of each; the sites are invented.

`mistakes.csv` has a row a mistake: what is typed, in which file of which sound study, the verdict and the words. The
words are the program's own, read before they were stored; a mistake that is not noticed is stored as that.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import NamedTuple

from overbank.commands.terminal import told
from overbank.errors import StudyError
from overbank.outputs.medians import deterministic_run
from overbank.site.validity import ANOTHER_UNIT
from overbank.study.load import NAME, read_study
from small import BLOCKAGE
from small import edited as small_edited

from .inspections import ASSETS, HEAD, INCIDENTS, RECORDS, visit
from .river import BELOW, MEADOW, RIVER
from .sound import NORMAL_DEPTH, RATING, SOUND, edited
from .test_flow import RECORD, with_flow

FILE = Path(__file__).with_suffix(".csv")

FLOWS = (
    3.1,
    4.4,
    2.7,
    3.9,
    5.2,
    3.3,
    2.9,
    4.1,
    3.6,
    6.0,
    3.0,
    4.7,
    3.5,
    2.6,
    5.5,
    3.8,
    3.2,
    4.0,
    2.8,
    4.9,
    3.4,
    3.7,
    4.3,
)
MAXIMA = "flow_m3_s\n" + "".join(f"{flow}\n" for flow in FLOWS)

SHARES = (35, 0, 10, 60, 20, 100, 5, 45)
VISITS = "\n".join(
    [
        HEAD,
        *(
            visit(
                14.0 * k, SHARES[k % 8], "pre_storm" if k % 7 == 6 else "scheduled", "yes", "none" if k % 4 else "full"
            )
            for k in range(96)
        ),
        "",
    ]
)

BASES: dict[str, dict[str, str]] = {
    "culvert": {NAME: SOUND},
    "river": {NAME: RIVER, "below.csv": BELOW, "meadow.csv": MEADOW},
    "maxima": {NAME: with_flow(RECORD), "maxima.csv": MAXIMA},
    "rating": {NAME: edited((NORMAL_DEPTH, 'rating = "rating.csv"')), "rating.csv": RATING},
    "visits": {
        NAME: small_edited((BLOCKAGE, RECORDS)),
        **{"assets.csv": ASSETS, "visits.csv": VISITS, "incidents.csv": INCIDENTS},
    },
}
"""Sound studies, each with the files that it names."""

REFUSED, ASKED, TAKEN = "refused", "asked about", "taken"


class Mistake(NamedTuple):
    """A mistake: its group, what it is, where it is typed in place of what, and what comes of it."""

    group: str
    typed: str
    base: str
    file: str
    old: str
    new: str
    verdict: str
    words: str


def stored() -> list[Mistake]:
    """The table."""
    with FILE.open(encoding="utf-8", newline="") as file:
        return [Mistake(**row) for row in csv.DictReader(file)]


def verdict_of(folder: Path, files: dict[str, str]) -> tuple[str, str]:
    """What `overbank check` makes of a study: the verdict, and what it says of it."""
    folder.mkdir(exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    try:
        run = deterministic_run(read_study(folder))
    except StudyError as error:
        return REFUSED, "\n".join(f"{each.place}: {each.got}. {each.remedy}" for each in error.faults)
    said = list(told(run.study, run.problem))
    said += [f"{each.element}: {each.words}" for each in run.remarks if each.words.endswith(ANOTHER_UNIT)]
    return (ASKED, "\n".join(said)) if said else (TAKEN, "")


def with_mistake(mistake: Mistake) -> dict[str, str]:
    """The files of its study with the mistake made."""
    files = dict(BASES[mistake.base])
    assert files[mistake.file].count(mistake.old) == 1, f"{mistake.old!r} does not stand once in {mistake.file}"
    return {**files, mistake.file: files[mistake.file].replace(mistake.old, mistake.new)}
