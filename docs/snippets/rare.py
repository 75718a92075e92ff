"""A rare overtopping in the design flood and in a year: each figure with its interval and its basis."""

import overbank
from overbank.words import rounded

outcome = overbank.run_study(overbank.read_study("docs/snippets/rare/known.toml"))
over, year = outcome.overtopping, outcome.annual

for words, figure in (
    ("in the design flood", over.best),
    ("the same, counted", over.plain),
    ("in a year", year.probability),
    ("in a year, unblocked", year.unblocked.probability),
    ("at least once in 60 years", year.life.probability),
):
    value, interval = rounded(figure, "p")
    print(f"{words:26} {value:11} 95 % interval: {interval}")
    print(f"{'':26} by {figure.method}")
    if figure.note:
        print(f"{'':26} note: {figure.note}")
