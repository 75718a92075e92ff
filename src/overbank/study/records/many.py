"""The visits to many screens in one file: what was seen at each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import PydanticCustomError

from overbank.errors import Fault, StudyError
from overbank.study.reading.folder import Folder, first_faults
from overbank.study.records.checks import faults_of_visits
from overbank.study.records.forms import VISITS, Row, read_form
from overbank.study.records.looks import ROUTINE, record_of
from overbank.uncertain.records import Looks


def looks_of_all(folder: Path, file: str, screens: Mapping[str, Mapping[str, Any]]) -> tuple[dict[str, Looks], int]:
    """The looks at every screen that was visited, by its id; and how many visits were to none of them.

    Only visits of routine reasons count, as in a study.

    Parameters
    ----------
    screens : what is known of each by its id, in the columns of a form of assets: bar_gap_mm and bar_width_mm

    Raises
    ------
    StudyError : with every fault of the file
    """
    try:
        visits = read_form(Folder(folder), file, VISITS)
    except PydanticCustomError as fault:
        raise StudyError(str(folder / file), (_as_fault(file, fault.context or {}),)) from None
    except ValidationError as error:
        raise StudyError(str(folder / file), tuple(_as_fault(file, each["ctx"]) for each in error.errors())) from None
    known = {name: Row(0, dict(cells)) for name, cells in screens.items()}
    own = [row for row in visits if row.cells["asset_id"] in known]
    if faults := first_faults(list(faults_of_visits(file, own, known)), file):
        raise StudyError(str(folder / file), tuple(_as_fault(file, fault.context or {}) for _, fault in faults))
    by_screen: dict[str, list[Row]] = defaultdict(list)
    for row in own:
        by_screen[row.cells["asset_id"]].append(row)
    looks = {name: record_of(known[name], rows, [], ROUTINE, {}).looks for name, rows in by_screen.items()}
    return {name: each for name, each in looks.items() if each.low}, len(visits) - len(own)


def _as_fault(file: str, parts: Mapping[str, Any]) -> Fault:
    return Fault(parts.get("row") or file, parts["expected"], parts["got"], parts["remedy"])
