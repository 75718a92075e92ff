"""Set one number by hand and leave the rest at their medians: a curve of level against blockage."""

import numpy as np

import overbank
from overbank.model import Model
from overbank.study.build import build

model = Model(build(overbank.read_study("studies/quillet-lane")))
for blockage in np.linspace(0.0, 1.0, 6):
    print(f"{blockage:4.0%} blocked: {model.level_with('lane.screen.blockage', blockage):.2f} m")
