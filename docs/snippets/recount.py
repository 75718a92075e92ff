"""Count a report's figures again from its samples, without overbank: pandas alone."""

import json
import sys
from pathlib import Path

import pandas as pd

results = Path(sys.argv[1])
summary = json.loads((results / "summary.json").read_text(encoding="utf-8"))
samples = pd.read_parquet(results / "samples.parquet")
place = summary["place"]

counted = (samples[f"{place}.depth_over_bank_m"] > 0.0).mean()
reported = summary["probability_of_overtopping"]
print(f"over the bank: counted {counted:.4f}, reported {reported['plain_count']['value']:.4f} (plain count)")
smooth = reported["threshold_method"]
print(f"               threshold method {smooth['value']:.4f} ({smooth['low']:.4f} to {smooth['high']:.4f})")

levels = samples[f"{place}.level_m"]
for assurance, figure in summary["headwater_not_exceeded_m"].items():
    counted_level = levels.quantile(float(assurance))
    print(f"level with {float(assurance):4.0%}: counted {counted_level:.3f} m, reported {figure['value']:.3f} m")
