"""The results as tables and figures, for a notebook."""

import overbank

outcome = overbank.run_study(overbank.read_study("studies/box-under-a-road").with_samples(4096))
tables = overbank.tables(outcome)

samples = tables["samples"]
high = samples[samples["box.depth_over_bank_m"] > 0.0]
print(f"{len(high)} of {len(samples)} samples go over the bank")
print("median of what goes with it, and of all samples:")
for name in ("flow.design_m3_s", "box.blockage", "box.bank_level_m"):
    print(f"  {name:18} {high[name].median():7.3f} {samples[name].median():7.3f}")

drivers = tables["sensitivity"].query("output == 'overtopping'").nlargest(3, "total")
print(drivers[["input", "first", "total"]].to_string(index=False, float_format="%.2f"))

figure = overbank.figure(outcome, "exceedance")  # an ordinary matplotlib figure
print(type(figure).__module__)
