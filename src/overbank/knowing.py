"""What it takes and what it is worth to know more, as tables and for the summary: surveys, floods seen, samples."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from overbank.analysis import information, survey
from overbank.findings.knowing import BeforeAndAfter, LearntFromFloods, Surveys
from overbank.json_figures import figure, plain
from overbank.outcome import Outcome


def summary(outcome: Outcome) -> dict[str, Any]:
    """Headline figures of surveys, floods seen and automatic samples; only of what the study asks about."""
    found: dict[str, Any] = {}
    if outcome.surveys is not None:
        found["surveys"] = _surveys(outcome.surveys)
    if outcome.learnt is not None:
        found["floods_seen"] = _learnt(outcome.learnt)
    if outcome.automatic is not None:
        found["automatic_samples"] = {
            "samples": outcome.automatic.samples,
            "precision_met": outcome.automatic.met,
            "words": outcome.automatic.words,
        }
    return found


def tables(outcome: Outcome) -> dict[str, pd.DataFrame]:
    """Convergence, pairs of inputs, surveys, worth of knowing, floods seen and what they teach, samples tried."""
    found = {"convergence": pd.DataFrame(_ways(outcome))}
    if outcome.drivers.pairs is not None:
        found["second_order"] = outcome.drivers.pairs.table
    if outcome.surveys is not None:
        if outcome.surveys.narrowings:
            found["surveys"] = survey.table(outcome.surveys.narrowings)
        if outcome.surveys.worth is not None:
            found["worth_of_knowing"] = _worth_table(outcome.surveys)
    if outcome.learnt is not None:
        found["floods_seen"] = _seen_table(outcome.learnt)
        if outcome.learnt.taught is not None:
            found["learnt"] = outcome.learnt.taught.inputs
    if outcome.automatic is not None:
        found["automatic_samples"] = pd.DataFrame(_steps(outcome))
    return found


def _surveys(found: Surveys) -> dict[str, Any]:
    said: dict[str, Any] = {
        "on_offer": {
            each.input: {
                "cost": each.cost,
                "narrows_the_band_of_levels_m": figure(each.narrowing),
                "moves_the_probability_of_overtopping": figure(each.probability_spread),
            }
            for each in found.narrowings
        },
        "notes": list(found.notes),
    }
    if found.worth is not None:
        worth = found.worth
        said["worth_of_knowing"] = {
            "loss_if_overtopped": worth.loss,
            "cost_of_acting": worth.cost,
            "better_today": worth.decision.better,
            "gain_of_acting": figure(worth.decision.gain),
            "everything": figure(worth.decision.everything),
            "result_of_survey": {each.input: _worth(each) for each in worth.surveys},
            "input_itself": {each.input: _worth(each) for each in worth.inputs},
        }
    return said


def _worth(found: information.Worth) -> dict[str, Any]:
    said = {**figure(found.worth), "by_chance": plain(found.by_chance)}
    return {**said, "words": found.words} if found.words else said


def _worth_table(found: Surveys) -> pd.DataFrame:
    assert found.worth is not None
    parts = (("result of the survey", found.worth.surveys), ("the input itself", found.worth.inputs))
    named = [information.table(worths).assign(knowing=what) for what, worths in parts if worths]
    return pd.concat(named, ignore_index=True)


def _learnt(found: LearntFromFloods) -> dict[str, Any]:
    said: dict[str, Any] = {"anew_in_each_flood": list(found.anew), "notes": list(found.notes)}
    if found.refusal:
        said["refused"] = found.refusal
    if found.taught is not None:
        taught = found.taught
        said["effective_samples"] = round(taught.effective, 1)
        said["level_with_the_assurance_m"] = _both(taught.level)
        said["probability_of_overtopping"] = _both(taught.probability)
    return said


def _both(found: BeforeAndAfter) -> dict[str, Any]:
    return {"prior": figure(found.prior), "posterior": figure(found.posterior)}


def _seen_table(found: LearntFromFloods) -> pd.DataFrame:
    """A row an observation: what was seen, what was foretold, and how likely one as far out was."""
    chances = [float("nan")] * len(found.seen) if found.taught is None else list(found.taught.chances)
    return pd.DataFrame(
        {
            **{"observation": seen.name, "at": seen.place, "flow_m3_s": seen.flow, "level_m": seen.level},
            "sd_m": seen.sd,
            **{f"foretold_{100 * share:g}_m": level for share, level in seen.foretold.items()},
            "chance": chance,
        }
        for seen, chance in zip(found.seen, chances, strict=True)
    )


def _ways(outcome: Outcome) -> Iterator[dict[str, float | str]]:
    """Each headline figure from ever more of the samples."""
    for name, verdict in outcome.verdicts.items():
        for samples, found in verdict.way:
            yield {"figure": name, "samples": samples, "value": found.value, "low": found.low, "high": found.high}


def _steps(outcome: Outcome) -> Iterator[dict[str, float | str]]:
    assert outcome.automatic is not None
    for step in outcome.automatic.steps:
        for name, found in step.found.items():
            yield {
                **{"samples": step.samples, "figure": name},
                **{"value": found.value, "low": found.low, "high": found.high},
            }
