"""An outcome as files: the headline figures, the curves, the samples, and what is needed to run it again."""

from __future__ import annotations

import json
import math
import platform
from collections.abc import Iterable, Mapping
from importlib.metadata import version
from itertools import chain
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow as pa
from pyarrow.parquet import ParquetWriter

from overbank import __version__, deciding, knowing
from overbank._jit import threads
from overbank.analysis.annual import return_period
from overbank.analysis.bands import Curve
from overbank.analysis.intervals import Estimate
from overbank.analysis.sensitivity import Indices
from overbank.files.owned import MARK, listing
from overbank.files.samples import sample_tables
from overbank.files.spreadsheets import write_csv
from overbank.findings.years import Annual
from overbank.json_figures import figure as _figure
from overbank.json_figures import plain as _plain
from overbank.outcome import Outcome
from overbank.site.regimes import regime_words

PACKAGES = ("numpy", "scipy", "pandas", "SALib", "chaospy", "numba", "matplotlib", "pydantic", "pyarrow")


def write_tables(outcome: Outcome, folder: Path) -> None:
    """Write summary.json, the CSV tables and samples.parquet into an existing folder."""
    _write_json(folder / "summary.json", summary(outcome))
    for name, table in tables(outcome).items():
        write_csv(table, folder / f"{name}.csv")
    _write_samples(outcome, folder / "samples.parquet")


def _write_samples(outcome: Outcome, file: Path) -> None:
    """A group of rows at a time, so that a table of all of them is never held."""
    groups = (pa.Table.from_pandas(table, preserve_index=False) for table in sample_tables(outcome))
    first = next(groups)
    with ParquetWriter(file, first.schema) as writer:
        for group in chain((first,), groups):
            writer.write_table(group)


def write_manifest(outcome: Outcome, folder: Path) -> None:
    """Write manifest.json, last of all: it lists the files of the folder, and what they hold."""
    _write_json(folder / MARK, {**manifest(outcome), **listing(folder)})


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
            "beyond_the_samples": None if over.beyond is None else _figure(over.beyond),
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
    if outcome.annual is not None:
        figures["floods_of_a_year"] = _annual(outcome.annual)
    figures |= knowing.summary(outcome)
    figures["design_checks"] = [
        {
            **{"element": each.element, "figure": each.name},
            "at_medians": _plain(each.certain) if math.isfinite(each.certain) else None,
            **{"asked": each.asked, "asked_by": each.asked_by, "probability_of_less": _figure(each.below)},
        }
        for each in outcome.checks.figures
    ]
    figures |= deciding.summary(outcome)
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
        **deciding.tables(outcome),
        **({} if outcome.annual is None else annual_tables(outcome.annual)),
        "sensitivity": sensitivity_table(outcome),
        "shapley_effects": None if outcome.drivers.shapley is None else outcome.drivers.shapley.table,
        "sensitivity_of_samples": None if outcome.drivers.given is None else outcome.drivers.given.table,
        "effects": effects_table(outcome),
        "one_at_a_time": swing_table(outcome),
        **knowing.tables(outcome),
        "design_checks": design_table(outcome),
        "barrels": barrel_table(outcome),
        "people": people_table(outcome),
        "hazards": hazard_table(outcome),
        "influence": influence_table(outcome),
    }
    return {name: table for name, table in found.items() if table is not None}


def _annual(annual: Annual) -> dict[str, Any]:
    """Annual probability of overtopping and what belongs to it."""
    unblocked, life = annual.unblocked, annual.life
    return {
        "annual_maxima": annual.given.floods.words,
        "probability_of_overtopping": {
            "threshold_method": _figure(annual.probability),
            "plain_count": _figure(annual.plain),
            "agree": annual.agree,
            "samples_where_the_level_fell": annual.fallen,
        },
        "years_between_overtoppings": _figure(return_period(annual.probability)),
        "quantiles_over_what_is_not_known": {f"{q:g}": _figure(e) for q, e in annual.knowledge.items()},
        "with_nothing_blocked": None if unblocked is None else _figure(unblocked.probability),
        "times_as_likely_as_with_nothing_blocked": None if unblocked is None else _figure(unblocked.times),
        "over_years": None if life is None else {"years": life.years, **_figure(life.probability)},
        "assurance": {f"{line.annual_probability:g}": _figure(line.assurance) for line in annual.lines},
        "anew_in_each_flood": list(annual.given.each_flood),
        "the_same_in_all_floods": list(annual.given.knowledge),
        "states_of_knowledge": annual.states,
        "floods_in_each_state": annual.floods_of_each,
    }


def annual_tables(annual: Annual) -> dict[str, pd.DataFrame]:
    """Floods by annual probability; annual probability of each level; the annual maxima where a fit was made."""
    lines = pd.DataFrame(
        {
            **{"annual_probability": line.annual_probability, "flow_m3_s": line.flow},
            **{"flow_5_m3_s": line.flow_low, "flow_95_m3_s": line.flow_high},
            **{f"level_{100 * share:g}_m": level.value for share, level in line.levels.items()},
            **{"assurance": line.assurance.value, "low": line.assurance.low, "high": line.assurance.high},
        }
        for line in annual.lines
    )
    levels = annual.frequency.expected.table("level_m").assign(
        **{f"knowledge_{100 * share:g}": values for share, values in annual.frequency.knowledge.items()}
    )
    if annual.unblocked is not None:
        levels["with_nothing_blocked"] = annual.unblocked.frequency.expected.probability
    found = {"floods": lines, "level_frequency": levels}
    fit = annual.given.floods.fit
    if fit is not None:
        maxima = {"flow_m3_s": fit.maxima, "plotted_at_annual_probability": fit.plotting_positions}
        found["annual_maxima"] = pd.DataFrame(maxima)
    return found


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


def design_table(outcome: Outcome) -> pd.DataFrame | None:
    """The usual design checks: a row a figure; None where there is neither culvert nor bridge."""
    return _rows(
        {
            **{"element": each.element, "figure": each.name, "at_medians": each.certain},
            **{
                "asked": each.asked,
                "asked_by": each.asked_by or "nobody",
                "margin_at_medians": each.certain - each.asked,
            },
            **{"probability_of_less": each.below.value, "low": each.below.low, "high": each.below.high},
            "probability_of_less_than_nought": math.nan if each.negative is None else each.negative.value,
        }
        for each in outcome.checks.figures
    )


def barrel_table(outcome: Outcome) -> pd.DataFrame | None:
    """How the barrels of culverts flow, as shares of the samples; None where there is no culvert."""
    return _rows(
        {
            **{"element": each.element, "flow": words, "at_medians": words == each.certain},
            **{"share": share.value, "low": share.low, "high": share.high},
        }
        for each in outcome.checks.barrels
        for words, share in each.shares.items()
    )


def people_table(outcome: Outcome) -> pd.DataFrame | None:
    """Figures about people at every culvert, a row a figure; None where there is no culvert."""
    return _rows(
        {
            **{"element": each.element, "side": figure.side, "figure": figure.name, "at_medians": figure.certain},
            **{
                f"{end}{100 * share:g}": number
                for share, found in figure.quantiles.items()
                for end, number in (("quantile_", found.value), ("low_", found.low), ("high_", found.high))
            },
        }
        for each in outcome.people
        for figure in each.figures
    )


def hazard_table(outcome: Outcome) -> pd.DataFrame | None:
    """Classes of hazard at every culvert, as shares of the samples; None where there is no culvert."""
    return _rows(
        {
            **{"element": each.element, "place": hazard.place, "system": system, "class": name},
            **{"share": share.value, "low": share.low, "high": share.high},
        }
        for each in outcome.people
        for hazard in each.hazards
        for system, classes in (("hazard rating", hazard.ratings), ("general", hazard.general))
        for name, share in classes.items()
    )


def influence_table(outcome: Outcome) -> pd.DataFrame | None:
    """How far upstream each structure is felt [m]; None where there is none."""
    return _rows(
        {
            **{"element": each.element, "afflux_m": each.at_structure, "to_a_tenth_m": each.to_tenth},
            **{"to_10_mm_m": each.to_small, "modelled_m": each.modelled, "left_m": each.left},
        }
        for each in outcome.influences
    )


def _rows(rows: Iterable[dict[str, Any]]) -> pd.DataFrame | None:
    """A table; None without rows."""
    table = pd.DataFrame(list(rows))
    return None if table.empty else table


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
    drivers = outcome.drivers
    found = {"level": drivers.level, "level, grouped": drivers.groups, "overtopping": drivers.overtopping}
    tables = [_of_output(output, indices) for output, indices in found.items() if indices is not None]
    return pd.concat(tables, ignore_index=True) if tables else pd.DataFrame(columns=["output", "input"])


def effects_table(outcome: Outcome) -> pd.DataFrame | None:
    """Mean level and probability of overtopping along every input; None where both were refused."""
    parts = [each.table().assign(output=output) for output, found in outcome.drivers.effects.items() for each in found]
    return pd.concat(parts, ignore_index=True) if parts else None


def swing_table(outcome: Outcome) -> pd.DataFrame:
    """One input at a time: its 10 % and 90 % quantiles, the levels of one run with them, and their changes [m]."""
    return pd.DataFrame(
        {
            "input": each.name,
            **{f"{end}_value": each.values[k] for k, end in enumerate(("low", "high"))},
            **{f"{end}_level_m": each.levels[k] for k, end in enumerate(("low", "high"))},
            **{f"{end}_change_m": each.changes[k] for k, end in enumerate(("low", "high"))},
        }
        for each in outcome.swings
    )


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
        "named_files_sha256": outcome.study.files,
        "samples": settings.samples,
        "replicates": settings.replicates,
        "design": settings.design,
        "seed": settings.seed,
        "model_runs": outcome.runs,
        "seconds": {stage: round(seconds, 2) for stage, seconds in outcome.seconds.items()},
        "inputs": {item.name: item.distribution.words for item in outcome.problem.inputs.items},
        "fixed": dict(outcome.problem.fixed),
        "given_from_python": sorted(outcome.study.given),
        "study": outcome.study.text,
    }


def _at(curve: Curve, place: int) -> dict[str, Any]:
    return {
        "blockage": _plain(curve.at[place]),
        "value": _plain(curve.probability[place]),
        "low": _plain(curve.low[place]),
        "high": _plain(curve.high[place]),
        "method": curve.method,
    }


def _write_json(path: Path, content: Mapping[str, Any]) -> None:
    path.write_text(json.dumps(content, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
