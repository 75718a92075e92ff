"""A study's text as the referee understands it: uncertain numbers, dependence, floods, observations, and what is asked.

Read with `tomllib` alone. Only what the generator and the directed studies write is understood.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from referee import families, records
from referee.families import Array

ANNUAL, DESIGN = "flow.annual", "flow.design_m3_s"
"""Dotted paths of the flood of a year and of the design flow."""

ANEW = ("blockage", "pattern")
"""What comes out anew in each flood unless the study says otherwise; so does a level given as tailwater."""

PATTERNS = ("uniform", "floating_raft", "bottom_up")
"""The place of a word is the number that stands for it (how-to of the study file)."""

TAILS = "tails"
"""Key of a dependence that says how it goes on in the far ends; left out, it is the Gaussian one."""

MEDIAN_DRAWS = 400_000


@dataclass(frozen=True)
class Number:
    """An uncertain number: its family and parameters, of which some may be uncertain themselves.

    kind : "knowledge" (the same in all floods) or "each flood"
    """

    path: str
    family: str
    given: Mapping[str, Any]
    kind: str

    def parameters(self, rng: np.random.Generator, count: int) -> dict[str, Any]:
        """The parameters, one a state of knowledge where they are not known."""
        return {key: _drawn(key, each, rng, count) for key, each in self.given.items()}

    def values(self, z: Array, parameters: Mapping[str, Any]) -> Array:
        """Values at normal scores; parameters that are not known go along the first axis."""
        shaped = {
            key: each.reshape(-1, *(1,) * (z.ndim - 1)) if isinstance(each, np.ndarray) else each
            for key, each in parameters.items()
        }
        return families.value(self.family, shaped, z)

    @property
    def vague(self) -> bool:
        """Whether a parameter is uncertain."""
        return any(isinstance(each, Number) for each in self.given.values())

    @property
    def median(self) -> float:
        """The smallest value with half of the chance at or below it, over the parameters that are not known too."""
        if not self.vague:
            return float(self.values(np.zeros(1), self.given)[0])
        rng = np.random.default_rng(17)
        drawn = self.values(rng.standard_normal(MEDIAN_DRAWS), self.parameters(rng, MEDIAN_DRAWS))
        return float(np.quantile(drawn, 0.5, method="inverted_cdf"))


@dataclass(frozen=True)
class RecordedBlockage(Number):
    """A blocked share of which only visits tell."""

    looks: records.Looks
    start: records.Start

    def parameters(self, rng: np.random.Generator, count: int) -> dict[str, Any]:
        return records.posterior(self.looks, self.start, rng, count)

    @property
    def vague(self) -> bool:
        return True


@dataclass(frozen=True)
class Pair:
    """Two numbers that go together; `tails` is the word of a dependence with tails, empty for the Gaussian one."""

    between: tuple[str, str]
    rank_correlation: float
    tails: str


@dataclass(frozen=True)
class Observation:
    """A flood that was seen: its flow, the level, and the standard deviation of the level's error [m]."""

    flow: float | Number
    level: float
    sd: float
    at: str


@dataclass(frozen=True)
class Reading:
    """A study as the referee understands it; `raw` is its text, `files` its other files by name."""

    raw: Mapping[str, Any]
    files: Mapping[str, str]

    @classmethod
    def of(cls, text: str, files: Mapping[str, str]) -> Reading:
        """Read a study from its text and those of its files."""
        return cls(tomllib.loads(text), files)

    @cached_property
    def numbers(self) -> tuple[Number, ...]:
        """Uncertain numbers of the site and the design flow as it is given, without the flood of a year."""
        found = list(self._walk(self.raw["flow"], "flow", skip=("annual",)))
        found += self._walk(self.raw["tailwater"], "tailwater")
        for element in self.raw["element"]:
            found += self._walk(element, element["id"])
        return tuple(found)

    def number(self, path: str) -> Number:
        """An uncertain number by its dotted path."""
        return next(each for each in self.numbers if each.path == path)

    @property
    def pairs(self) -> tuple[Pair, ...]:
        """Dependences as written."""
        return tuple(
            Pair(tuple(each["between"]), each["rank_correlation"], each.get(TAILS, ""))
            for each in self.raw.get("dependence", [])
        )

    @property
    def annual(self) -> tuple[str, Mapping[str, float], int | None] | None:
        """Family and parameters of the annual maxima, and the years of record that they are worth; None without."""
        written = self.raw["flow"].get("annual")
        if written is None:
            return None
        family = next(key for key in written if key in families.FAMILIES)
        return family, written[family], written.get("equivalent_years")

    @property
    def design_probability(self) -> float | None:
        """Annual probability of the design flood, where it comes from the annual maxima."""
        written: float | None = self.raw["flow"].get("design_annual_probability")
        return written

    @property
    def design_life(self) -> int | None:
        """Years over which a probability is asked for."""
        written: int | None = self.raw["flow"].get("design_life_years")
        return written

    @property
    def target(self) -> float:
        """The highest acceptable probability of overtopping in the design flood."""
        return float(self.raw["decision"]["target_probability"])

    @property
    def assurance(self) -> float:
        """The probability with which the allowance shall hold."""
        return float(self.raw["decision"]["assurance"])

    @property
    def observations(self) -> tuple[Observation, ...]:
        """Floods that were seen."""
        found = []
        for each in self.raw.get("observation", []):
            flow = each["flow_m3_s"]
            number = self._number(flow, "observation.flow_m3_s") if isinstance(flow, dict) else float(flow)
            found.append(Observation(number, each["level_m"], each["sd_m"], each.get("at", "")))
        return tuple(found)

    def _walk(self, table: Any, path: str, skip: tuple[str, ...] = ()) -> Iterator[Number]:
        """Uncertain numbers below a table, by the paths at which they stand."""
        for key, each in table.items():
            if isinstance(each, dict) and key not in skip:
                if "records" in each or any(word in each for word in families.FAMILIES):
                    yield self._number(each, f"{path}.{key}")
                else:
                    yield from self._walk(each, f"{path}.{key}")

    def _number(self, written: Mapping[str, Any], path: str) -> Number:
        last = path.rsplit(".", 1)[-1]
        usual = "each flood" if last in ANEW or path == "tailwater.level_m" else "knowledge"
        kind = written.get("kind", usual)
        if "records" in written:
            asked = written["records"]
            looks = records.looks(self.files[asked["visits"]], asked["asset"])
            return RecordedBlockage(path, "inflated_beta", {}, kind, looks, records.start(asked["prior"]))
        family = next(key for key in written if key in families.FAMILIES)
        given = {
            key: self._number(each, f"{path}.{key}") if isinstance(each, dict) else _plain(each)
            for key, each in written[family].items()
        }
        return Number(path, family, given, kind)


def _plain(written: Any) -> Any:
    """A parameter as numbers; the words of a pattern by their places."""
    if isinstance(written, list):
        return [PATTERNS.index(each) if isinstance(each, str) else each for each in written]
    return written


def _drawn(key: str, parameter: Any, rng: np.random.Generator, count: int) -> Any:
    """A parameter of each state; a chance stays between 0 and 1, whatever its own distribution does far out."""
    if not isinstance(parameter, Number):
        return parameter
    drawn = parameter.values(rng.standard_normal(count), parameter.parameters(rng, count))
    return np.clip(drawn, 0.0, 1.0) if key in ("at_zero", "at_one") else drawn
