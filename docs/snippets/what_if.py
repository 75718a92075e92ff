"""Set some numbers by hand and leave the rest at their medians: a curve of level against blockage."""

import numpy as np

import overbank

study = overbank.read_study("studies/quillet-lane")
levels = study.model().levels({"lane.screen.blockage": np.linspace(0.0, 1.0, 6), "lane.screen.gap_m": 0.15})
print(levels.round(2).to_string())
