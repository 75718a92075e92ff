"""Read a study, run it, and look at the answer."""

import overbank

study = overbank.read_study("studies/quillet-lane").with_samples(2048)  # an eighth of its samples, for a quick look

check = overbank.check_study(study)  # one run, every uncertain number at its median
for element in check.as_json()["elements"]:
    print(f"{element['id']:8} {element['level_m']:.2f} m  {element['regime']}")

outcome = overbank.run_study(study)
over = outcome.overtopping
print(f"probability of overtopping {over.best.value:.4f}, 95 % interval {over.best.low:.4f} to {over.best.high:.4f}")
print(f"the same, counted          {over.plain.value:.4f}, 95 % interval {over.plain.low:.4f} to {over.plain.high:.4f}")
print(f"level with 90 % assurance  {outcome.headwater.quantiles[0.9].value:.2f} m")
if outcome.blockage is not None:
    print(f"largest blockage allowed   {outcome.blockage.largest.value:.2f}")
    print(f"blockage to allow for      {outcome.blockage.allowance.value:.2f}")
