"""How the samples were laid out, in words."""

from __future__ import annotations

from typing import Any

from overbank.outputs.outcome import Outcome

DESIGNS = {
    "sobol": "scrambled Sobol' points",
    "latin_hypercube": "Latin hypercube",
    "monte_carlo": "random samples",
}
"""Sampling designs in words."""


def sampling_words(outcome: Outcome) -> dict[str, Any]:
    """The settings of the sampling by the names that the templates use."""
    settings = outcome.study.content.run
    return {
        "settings": settings,
        "design": DESIGNS[settings.design],
        "samples": f"{settings.samples:,}",
        "each": settings.samples // settings.replicates,
    }
