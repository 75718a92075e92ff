"""A distribution of SciPy in place of one that the study file gives."""

from scipy import stats

import overbank

study = overbank.read_study("studies/box-under-a-road").with_samples(2048)
seen = stats.truncweibull_min(1.6, 0.0, 4.0, scale=0.25)  # ends at 4 scales: a share of 1
own = study.with_value("box.blockage", seen, "fitted by ourselves")

for name, each in (("as the study says", study), ("our own", own)):
    outcome = overbank.run_study(each)
    blockage = next(item for item in outcome.problem.inputs.items if item.name == "box.blockage")
    over = outcome.overtopping.best
    print(f"{name:18} {blockage.distribution.words}")
    print(f"{'':18} probability of overtopping {over.value:.3f} ({over.low:.3f} to {over.high:.3f})")
