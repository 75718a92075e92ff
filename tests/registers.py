"""A small register for the tests, and how it is read and run. Its structures are invented."""

from __future__ import annotations

from concurrent.futures import Executor, ThreadPoolExecutor
from pathlib import Path

from overbank.register.defaults import Defaults
from overbank.register.outcome import Whole
from overbank.register.reading import read_both
from overbank.register.results import register_folder, run_register
from overbank.register.table import Register

DEFAULTS = """\
title = "A small register (invented)"

[columns]
"Asset" = "id"
"Width (mm)" = { path = "culvert.barrel.span_m", unit = "mm" }
"Bank" = "element.bank_level_m"

[run]
samples = 512
replicates = 8
seed = 5

[all]
loss = 20000
tailwater.level_m = { normal = { mean = 10.6, sd = 0.05 } }
flow.design_m3_s.cov = 0.2

[kind.culvert]
culvert.barrel.shape = "box"
culvert.barrel.rise_m = 1.2
culvert.barrel.length_m = 12
culvert.barrel.upstream_invert_m = 10.05
culvert.barrel.downstream_invert_m = 10.0
culvert.barrel.manning_n = { normal = { mean = 0.014, sd = 0.001 } }
culvert.inlet.edge = "wingwalls 30 to 75 deg"
culvert.screen.height_m = 1.4
culvert.screen.bar_m = 0.012
culvert.screen.gap_m = 0.14

[kind.weir]
weir.crest.kind = "broad_crested"
weir.crest.breadth_m = 0.8
weir.crest.flow_factor = { lognormal = { median = 1.0, cov = 0.08 } }
weir.approach.section.shape = "rectangle"
weir.approach.section.width_m = 4.0
weir.approach.bed_level_m = 9.8

[class.wooded]
culvert.screen.blockage = { inflated_beta = { at_zero = 0.05, a = 2.0, b = 1.8, at_one = 0.2 } }

[class.open]
culvert.screen.blockage = { inflated_beta = { at_zero = 0.5, a = 1.2, b = 4.0, at_one = 0.0 } }

[region.north]
flow.design_m3_s.cov = 0.35

[[action]]
name = "rake"
cost = 400
set = { "culvert.screen.blockage" = { inflated_beta = { at_zero = 0.7, a = 1.2, b = 6.0, at_one = 0.0 } } }

[budget]
money = 500
worst = 2
"""

TABLE = """\
Asset,name,kind,class,region,Width (mm),Bank,flow.design_m3_s,culvert.screen.width_m,weir.crest.level_m,action.rake.cost
mill,,culvert,wooded,north,1800,12.0,3.0,2.6,,450
lane,Lane,culvert,open,south,1700,12.1,3.0,2.4,,
ford,,culvert,open,south,1500,11.7,2.4,,,
sill,,weir,open,north,,11.9,3.5,,11.0,
"""


def written(folder: Path, table: str = TABLE, defaults: str = DEFAULTS) -> Path:
    """The table in a folder, its defaults beside it."""
    (folder / "defaults.toml").write_text(defaults, encoding="utf-8")
    file = folder / "table.csv"
    file.write_text(table, encoding="utf-8")
    return file


def read(folder: Path, table: str = TABLE, defaults: str = DEFAULTS) -> tuple[Register, Defaults]:
    """The table, read."""
    return read_both(written(folder, table, defaults), None)


def computed(folder: Path, out: str = "out", executor: Executor | None = None) -> Whole:
    """What stands in a folder, run in this process."""
    register, defaults = read_both(folder / "table.csv", None)
    with executor or ThreadPoolExecutor(1) as pool, register_folder(folder / out) as places:
        return run_register(register, defaults, places, pool, 1, lambda _done, _all: None)
