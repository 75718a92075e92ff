"""The stages of a run: each takes the sampling and gives one part of the outcome. `overbank.run` puts them in order."""
