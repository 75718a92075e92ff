"""A rare overtopping in the design flood and in a year: each figure with its interval and its basis."""

import overbank

outcome = overbank.run_study(overbank.read_study("docs/snippets/rare/known.toml"))
over, year = outcome.overtopping, outcome.annual

for words, figure in (
    ("in the design flood", over.best),
    ("the same, counted", over.plain),
    ("in a year", year.probability),
    ("in a year, unblocked", year.unblocked.probability),
    ("at least once in 60 years", year.life.probability),
):
    print(f"{words:26} {figure.value:.2e}   95 % interval: {figure.low:.1e} to {figure.high:.1e}")
    print(f"{'':26} by {figure.method}")
    if figure.note:
        print(f"{'':26} note: {figure.note}")
