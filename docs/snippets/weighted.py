"""Weight any figure by what the floods seen teach: pandas and NumPy are enough."""

import sys
from pathlib import Path

import numpy as np
import pandas as pd

samples = pd.read_parquet(Path(sys.argv[1]) / "samples.parquet")
for name in ("garden.manning_n", "garden.level_m"):
    before, after = samples[name].mean(), np.average(samples[name], weights=samples["weight"])
    print(f"mean of {name:18} before {before:.4f}, after {after:.4f}")
over = samples["garden.depth_over_bank_m"] > 0.0
print(f"over the bank: before {over.mean():.3f}, after {np.average(over, weights=samples['weight']):.3f}")
