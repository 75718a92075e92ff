"""Small runs of the invented study and of odd relatives of it, each made once for all tests of the report."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from overbank.outputs.outcome import Outcome
from overbank.study.load import read_study
from shared import shared_run

STUDIES = Path(__file__).parents[2] / "studies"

LANE = (STUDIES / "quillet-lane" / "study.toml").read_text(encoding="utf-8")
BOX = (STUDIES / "box-under-a-road" / "study.toml").read_text(encoding="utf-8")

BLOCKAGE = """[element.screen.blockage]
inflated_beta = { at_zero = 0.20, a = 1.5, b = 2.5, at_one = 0.05 }"""
BANK = "normal   = { mean = 32.20, sd = 0.05 }"
ROAD = LANE[LANE.index("[element.road]") : LANE.index("[element.bank_level_m]")]
DEPENDENCES = LANE[LANE.index("[[dependence]]") :]
OVERFLOW = 'bar_shape       = "rectangle"'

HOSTILE = "<script>alert(1)</script> $\\\\frac{1}{2}$ {{7*7}} {% for %} & \\\" ' <b id='x'>"
"""As it stands in a TOML string."""


def _changed(text: str, *changes: tuple[str, str]) -> str:
    """The study with parts exchanged; every part must be there."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


def _small(text: str, samples: int, replicates: int) -> str:
    fewer, times = re.subn(r"(?m)^(samples\s*=\s*)16384", rf"\g<1>{samples}", text)
    assert times == 1
    return re.sub(r"(?m)^(replicates\s*=\s*)16", rf"\g<1>{replicates}", fewer)


def _certain_bank(level: float) -> tuple[str, str]:
    at = LANE.index("[element.bank_level_m]")
    return LANE[at : LANE.index("# --- the garden")], f"[element.bank_level_m]\nvalue = {level}\n\n"


FLOW_TABLE = LANE[LANE.index("[flow.design_m3_s]") : LANE.index("# --- the stream below")]
RECORD = """[flow]
design_annual_probability = 0.01
annual_maxima = "maxima.csv"
fit = { family = "gev", basis = "gauge (invented)" }
design_life_years = 50

"""
KNOWN = """[flow]
design_m3_s = { value = 6.0, basis = "invented" }
annual = { gumbel = { location = 2.4, scale = 0.6 }, basis = "invented" }
design_life_years = 50

"""
WITH_THE_FLOOD = (
    'between          = ["flow.design_m3_s", "lane.screen.blockage"]',
    'between          = ["flow.annual", "lane.screen.blockage"]',
)
MAXIMA = "flow_m3_s\n" + "".join(f"{2.4 + 0.1 * (year * 17 % 31) ** 1.1:.2f}\n" for year in range(31))
"""An invented record of 31 years."""

MONEY = (
    "assurance          = 0.90",
    "assurance          = 0.90\nloss_if_overtopped = 100000\ncost_of_acting     = 20000",
)
MARK = """

[[observation]]
flow_m3_s = { lognormal = { median = 4.0, cov = 0.15 }, basis = "gauge, peak of an invented winter" }
level_m   = 31.45
sd_m      = 0.10
basis     = "wrack mark on the wing wall (invented)"
"""
OTHER_MARK = """
[[observation]]
flow_m3_s = 5.0
level_m   = 31.75
sd_m      = 0.15
"""

NOTHING_MATTERS = """title = "A pond below a garden (invented)"

[run]
samples = 16384
replicates = 16
seed = 1

[decision]
target_probability = 0.05
assurance = 0.9
at = "pond"

[flow]
design_m3_s = 5.0

[tailwater]
level_m = 30.5

[[element]]
kind = "channel"
id = "pond"
section = { shape = "rectangle", width_m = 40.0 }
length_m = 10.0
bed_level_m = 28.0
bed_slope = 0.0001
manning_n = 0.02
bank_level_m = 31.0

[[element]]
kind = "channel"
id = "garden"
section = { shape = "rectangle", width_m = 4.0 }
length_m = 80.0
bed_slope = 0.003
manning_n = { lognormal = { median = 0.05, cov = 0.2 }, basis = "invented" }
"""
"""All that is uncertain lies upstream of the place where the answers are read: nothing can be integrated out."""

IN_TIME = """[flow.hydrograph]
shape = "triangle"
hours_to_peak = 3.0

[flow.debris]
rate_per_hour = 0.1

[flow.crew]
call_level_m = 31.5
travel_hours = 1.0
clears_per_hour = 0.3

"""
NO_CREW = """
[[alternative]]
name = "nobody"
remove = ["flow.crew"]
"""
FIXED_BLOCKAGE = (BLOCKAGE, "[element.screen.blockage]\nvalue = 0.3")
NO_DEPENDENCE = (DEPENDENCES, "")
SEALED = ((ROAD, ""), (OVERFLOW, f"{OVERFLOW}\noverflow = false"))

TEXTS = {
    "lane": LANE,
    "box": BOX,
    "no blockage": _changed(LANE, FIXED_BLOCKAGE, NO_DEPENDENCE),
    "plain count only": NOTHING_MATTERS,
    "impossible": _changed(LANE, _certain_bank(39.0)),
    "certain": _changed(LANE, _certain_bank(30.2)),
    "rare": _changed(LANE, _certain_bank(32.9)),
    "no way through": _changed(LANE, *SEALED, ("at_one = 0.05", "at_one = 0.15")),
    "never a way through": _changed(
        LANE, *SEALED, (BLOCKAGE, "[element.screen.blockage]\ndiscrete = { values = [0.5, 1.0], weights = [0.4, 0.6] }")
    ),
    "no allowance needed": _changed(LANE, ("assurance          = 0.90", "assurance          = 0.01")),
    "odd names": _changed(
        LANE,
        ('"lane"', '"-0_"'),
        ("lane.screen", "-0_.screen"),
        ('"garden"', '"G-' + "x" * 38 + '"'),
        ("garden.manning_n", "G-" + "x" * 38 + ".manning_n"),
    ),
    "hostile": _changed(
        LANE,
        ("Culvert and screen under Quillet Lane (invented)", HOSTILE),
        ("level survey, March (invented)", HOSTILE),
        ("larger floods bring more debris; 0.2 to 0.6 seems likely, no record to fit", HOSTILE),
        ("no inspection record: our own", HOSTILE),
    ),
    "floods of a year": _changed(LANE, (FLOW_TABLE, RECORD), WITH_THE_FLOOD),
    "floods that never reach": _changed(LANE, (FLOW_TABLE, KNOWN), (DEPENDENCES, ""), _certain_bank(39.0)),
    "floods seen": _changed(LANE, MONEY) + MARK + OTHER_MARK,
    "a flood that contradicts": LANE + MARK.replace("31.45", "36.00"),
    "flood in time": _changed(LANE, ("# --- the stream below the lane", f"{IN_TIME}# --- the stream below the lane"))
    + NO_CREW,
    "a gap": _changed(
        LANE,
        ('design     = "sobol"', 'design     = "monte_carlo"'),
        ('basis    = "read off a laser ground model, 0.05 m standard error against check points (invented)"', ""),
    ),
}
"""Studies by what is odd about them."""


LOOKED_AT_CLOSELY = ("lane", "hostile", "impossible", "certain", "plain count only", "floods seen", "floods of a year")
"""Their figures are held to something; of the others only the page is looked at, for which few samples will do."""


@cache
def outcome(name: str) -> Outcome:
    """The run of one of the studies."""
    return _run(name, *((512, 8) if name in LOOKED_AT_CLOSELY else (128, 4)))


@cache
def of_many(name: str, *only: str) -> Outcome:
    """Some outputs of one of the studies, with samples enough to hold them against a count of others."""
    return _run(name, 2048, 16, only)


def _run(name: str, samples: int, replicates: int, only: tuple[str, ...] | None = None) -> Outcome:
    with TemporaryDirectory() as folder:
        file = Path(folder) / "study.toml"
        file.write_text(_small(TEXTS[name], samples, replicates), encoding="utf-8")
        (Path(folder) / "maxima.csv").write_text(MAXIMA, encoding="utf-8")
        return shared_run(read_study(file), only)
