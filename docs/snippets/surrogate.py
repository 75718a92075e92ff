"""A formula for the level, how well it foretells, and its indices beside those of the run."""

import overbank

study = overbank.read_study("studies/box-under-a-road").with_samples(2048)
found = overbank.fit_surrogate(overbank.run_study(study), order=3)
print(
    f"foretells {found.q2:.1%} of the variance of unseen samples, {found.q2_as_stated:.1%} with the stated dependence"
)
columns = ["input", "total", "run_total"]
print(found.indices.nlargest(4, "total")[columns].to_string(index=False, float_format="%.2f"))
print(found.formula(terms=4))
