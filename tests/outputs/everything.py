"""A study that asks for every output: the small one with alternatives, annual maxima, surveys, money and more."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from overbank.study.load import Study, read_study
from small import FLOW, edited, written

MORE = """
[money]
depth_damage = [[0.0, 5000.0], [0.5, 40000.0]]
discount_rate = 0.035
life_years = 50

[[receptor]]
name = "sill (invented)"
level_m = 32.3
basis = "invented"

[[dependence]]
between = ["flow.annual", "lane.screen.blockage"]
rank_correlation = 0.4
tails = "gumbel"

[[alternative]]
name = "Wider"
set = { "lane.screen.width_m" = 5.0 }

[[observation]]
flow_m3_s = { normal = { mean = 5.0, sd = 0.3 } }
level_m = 31.9
sd_m = 0.2
"""
IN_TIME = """\
hydrograph = { shape = "gamma", hours_to_peak = 3.0 }
debris = { rate_per_hour = 0.05 }
crew = { call_level_m = 31.6, travel_hours = 1.0, clears_per_hour = 0.3 }"""
CHANGES = (
    ("samples = 4096", "samples = 256"),
    ("assurance = 0.9", 'assurance = 0.9\nloss_if_overtopped = 1e5\ncost_of_acting = 2e4\nrequirements = "asked.toml"'),
    (FLOW, f"{FLOW}\nannual = {{ gumbel = {{ location = 2.6, scale = 0.8 }} }}\n{IN_TIME}"),
    ("sd = 0.05 } }", "sd = 0.05 }, survey = { sd_after = 0.02, cost = 9 } }"),
)


def everything(folder: Path, *changes: tuple[str, str]) -> Study:
    """The study in a folder, with more changes."""
    file = written(folder, edited(*CHANGES, *changes) + MORE)
    asked = files("overbank.study").joinpath("starter", "requirements.toml").read_text(encoding="utf-8")
    (folder / "asked.toml").write_text(asked, encoding="utf-8")
    return read_study(file)
