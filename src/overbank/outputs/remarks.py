"""What a reader must know of the formulas at this site, each with the share of the samples that it is true of."""

from __future__ import annotations

from typing import Any

from overbank.outputs.output import Output
from overbank.sampling.run import Run
from overbank.site.validity import Remark, remarks


def _find(run: Run) -> tuple[Remark, ...]:
    sampling = run.sampling
    return remarks(run.model.problem.site, sampling.samples.site, run.model.numbers(sampling.rows))


def _summary(found: tuple[Remark, ...]) -> dict[str, Any]:
    return {"remarks": [{"element": each.element, "words": each.words, "share": each.share} for each in found]}


OUTPUT = Output(find=_find, summary=_summary)
