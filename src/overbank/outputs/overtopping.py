"""The probability of going over the bank at the place in the design flood, by two methods."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from overbank.analysis import overtopping
from overbank.analysis.overtopping import Probability
from overbank.analysis.pilot import Choice
from overbank.outputs.in_tables import figure
from overbank.outputs.output import Output
from overbank.sampling.rare import beyond_samples
from overbank.sampling.run import Run


@dataclass(frozen=True)
class Overtopping:
    """Probability of going over the bank in the design flood, by two methods.

    threshold : by the threshold method; None when no input can be integrated out
    plain : by counting samples
    agree : whether their intervals overlap
    integrated : name of the input that the threshold method integrates out
    choice : what the pilot says of every input that could be; None where there is none
    fallen : samples in which the level fell as that input rose; the plain count stands in for them
    beyond : what the samples themselves cannot show: by importance sampling where overtopping is too rare for them,
        exactly 0 or 1 where the ranges of the inputs say so; else None
    """

    threshold: Probability | None
    plain: Probability
    agree: bool
    integrated: str | None
    fallen: int
    beyond: Probability | None = None
    choice: Choice | None = None

    @property
    def best(self) -> Probability:
        """The figure to quote."""
        if self.beyond is not None:
            return self.beyond
        return self.plain if self.threshold is None else self.threshold


def _find(run: Run) -> Overtopping:
    sampling, ladder, each = run.sampling, run.ladder, run.over.probabilities
    plain = overtopping.plain(sampling.samples.depth_over_bank, sampling.settings.design)
    if ladder is None:
        beyond = beyond_samples(sampling, None, plain, each)
        return Overtopping(None, plain, True, None, 0, beyond, run.choice)
    threshold = overtopping.threshold(each)
    agree, beyond = overtopping.agree(threshold, plain), beyond_samples(sampling, ladder, threshold, each)
    return Overtopping(threshold, plain, agree, ladder.name, run.over.replaced, beyond, run.choice)


def _summary(found: Overtopping) -> dict[str, Any]:
    return {
        "probability_of_overtopping": {
            "threshold_method": None if found.threshold is None else figure(found.threshold),
            "plain_count": figure(found.plain),
            "agree": found.agree,
            "beyond_the_samples": None if found.beyond is None else figure(found.beyond),
            "integrated_out": found.integrated,
            "samples_where_the_level_fell": found.fallen,
        }
    }


OUTPUT = Output(find=_find, summary=_summary)
