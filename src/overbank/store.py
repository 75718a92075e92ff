"""An outcome as files: the headline figures, the curves, the samples, and what is needed to run it again."""

from __future__ import annotations

import json
import math
import platform
from collections.abc import Mapping
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pandas as pd

from overbank import __version__
from overbank._jit import threads
from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate
from overbank.analysis.sensitivity import Indices
from overbank.folders import MARK, files_in
from overbank.outcome import Outcome
from overbank.site.regimes import regime_words

PACKAGES = ("numpy", "scipy", "pandas", "SALib", "chaospy", "numba", "matplotlib", "pydantic", "pyarrow")


def write_tables(outcome: Outcome, folder: Path) -> None:
    """Write summary.json, the CSV tables and samples.parquet into an existing folder."""
    _write_json(folder / "summary.json", summary(outcome))
    for name, table in tables(outcome).items():
        table.to_csv(folder / f"{name}.csv", index=False)
    outcome.sample_table().to_parquet(folder / "samples.parquet", index=False)


def write_manifest(outcome: Outcome, folder: Path) -> None:
    """Write manifest.json, last of all: it lists the files of the folder."""
    _write_json(folder / MARK, {**manifest(outcome), "files": files_in(folder)})


def summary(outcome: Outcome) -> dict[str, Any]:
    """Headline figures, each with its 95 % interval and its method."""
    over, blocked, places = outcome.overtopping, outcome.blockage, outcome.places
    place = outcome.deterministic.element(outcome.place)
    figures: dict[str, Any] = {
        "title": outcome.study.title,
        "place": outcome.place,
        "target_probability": outcome.target,
        "assurance": outcome.assurance,
        "deterministic": {
            "flow_m3_s": _plain(outcome.deterministic.flow[0]),
            "tailwater_m": _plain(outcome.deterministic.tailwater[0]),
            "level_m": _plain(place.level[0]),
            "bank_level_m": None if place.bank_level is None else _plain(place.bank_level[0]),
            "regime": regime_words(place.kind, float(place.results["regime"][0])),
        },
        "probability_of_overtopping": {
            "threshold_method": None if over.threshold is None else _figure(over.threshold),
            "plain_count": _figure(over.plain),
            "agree": over.agree,
            "integrated_out": over.stair,
            "samples_where_the_level_fell": over.fallen,
        },
        "overtopping_at": {
            **{place.id: {**_figure(place.probability), "goes_first": _figure(place.first)} for place in places.each},
            "any": _figure(places.any),
            "all": _figure(places.all),
        },
        "headwater_not_exceeded_m": {f"{q:g}": _figure(e) for q, e in outcome.headwater.quantiles.items()},
    }
    if blocked is not None:
        figures["blockage"] = {
            "input": blocked.name,
            "largest_within_target": _figure(blocked.largest),
            "allowance_for_assurance": _figure(blocked.allowance),
            "overtopping_at_the_least_blockage": _at(blocked.fixed, 0),
            "overtopping_at_the_greatest_blockage": _at(blocked.fixed, -1),
        }
    figures["stability"] = {what: verdict.words for what, verdict in outcome.verdicts.items()}
    figures["remarks"] = [
        {"element": remark.element, "words": remark.words, "share": remark.share} for remark in outcome.remarks
    ]
    figures["uncertain_numbers_without_basis"] = list(outcome.problem.gaps())
    figures["model_runs"] = outcome.runs
    return figures


def tables(outcome: Outcome) -> dict[str, pd.DataFrame]:
    """Every table but the samples, by the name of its file."""
    found = {
        "exceedance": exceedance_table(outcome),
        "overtopping": overtopping_table(outcome),
        "overtopping_by_blockage": blockage_table(outcome),
        "sensitivity": sensitivity_table(outcome),
    }
    return {name: table for name, table in found.items() if table is not None}


def overtopping_table(outcome: Outcome) -> pd.DataFrame:
    """Overtopping at each place that has a bank, then at any and at all of them; share of it in which it is first."""
    places = outcome.places
    rows = [_place(place.id, place.probability, place.first) for place in places.each]
    nothing = Estimate(math.nan, math.nan, math.nan, "")
    return pd.DataFrame([*rows, _place("(any)", places.any, nothing), _place("(all)", places.all, nothing)])


def _place(name: str, probability: Estimate, first: Estimate) -> dict[str, str | float]:
    return {
        "place": name,
        **{"probability": probability.value, "low": probability.low, "high": probability.high},
        **{"goes_first": first.value, "first_low": first.low, "first_high": first.high},
    }


def exceedance_table(outcome: Outcome) -> pd.DataFrame:
    """Exceedance of the level upstream of the place, smooth and plain."""
    table = outcome.headwater.curve.table("level_m")
    plain = outcome.headwater.plain.table("level_m")
    return table.assign(plain_probability=plain["probability"], plain_low=plain["low"], plain_high=plain["high"])


def blockage_table(outcome: Outcome) -> pd.DataFrame | None:
    """Overtopping as a function of blockage; None when no blockage is uncertain."""
    if outcome.blockage is None:
        return None
    table = outcome.blockage.fixed.table("blockage").rename(
        columns={"probability": "probability_if_fixed", "low": "fixed_low", "high": "fixed_high"}
    )
    given = outcome.blockage.given or outcome.blockage.fixed
    conditional = given.table("blockage")
    return table.assign(
        probability_given=conditional["probability"],
        given_low=conditional["low"],
        given_high=conditional["high"],
    )


def sensitivity_table(outcome: Outcome) -> pd.DataFrame:
    """Sobol' indices of the level and of the event of overtopping, one row an input and output."""
    found = {"level": outcome.drivers.level, "overtopping": outcome.drivers.overtopping}
    tables = [_of_output(output, indices) for output, indices in found.items() if indices is not None]
    return pd.concat(tables, ignore_index=True) if tables else pd.DataFrame(columns=["output", "input"])


def _of_output(output: str, indices: Indices) -> pd.DataFrame:
    table = indices.table.copy()
    table.insert(0, "output", output)
    return table


def manifest(outcome: Outcome) -> dict[str, Any]:
    """What is needed to run the study again and to check that it is the same."""
    settings = outcome.study.content.run
    return {
        "written_by": f"overbank {__version__}",
        "python": platform.python_version(),
        "packages": {name: version(name) for name in PACKAGES},
        "machine": platform.machine(),
        "threads": threads(),
        "study_file": outcome.study.path.name,
        "study_sha256": outcome.study.sha256,
        "samples": settings.samples,
        "replicates": settings.replicates,
        "design": settings.design,
        "seed": settings.seed,
        "model_runs": outcome.runs,
        "seconds": {stage: round(seconds, 2) for stage, seconds in outcome.seconds.items()},
        "inputs": {item.name: item.distribution.words for item in outcome.problem.inputs.items},
        "fixed": dict(outcome.problem.fixed),
        "study": outcome.study.text,
    }


def _figure(estimate: Estimate) -> dict[str, Any]:
    figure = {
        "value": _plain(estimate.value),
        "low": _plain(estimate.low),
        "high": _plain(estimate.high),
        "method": estimate.method,
    }
    return {**figure, "note": estimate.note} if estimate.note else figure


def _at(curve: Curve, place: int) -> dict[str, Any]:
    return {
        "blockage": _plain(curve.at[place]),
        "value": _plain(curve.probability[place]),
        "low": _plain(curve.low[place]),
        "high": _plain(curve.high[place]),
        "method": curve.method,
    }


def _plain(number: float) -> float | str | None:
    """A JSON number; endless ones in words, no number as null."""
    if math.isnan(number):
        return None
    if math.isinf(number):
        return "above every level" if number > 0 else "below every level"
    return round(float(number), 6)


def _write_json(path: Path, content: Mapping[str, Any]) -> None:
    path.write_text(json.dumps(content, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
