"""A brute-force referee: headline figures recomputed by plain sampling of the site, from the study's text itself.

Nothing here is taken from the program's own statistics. Reading of the study, distributions, dependence, sampling and
quantiles are written anew in plain NumPy and SciPy; the site is the only thing that is shared, as a function of a table
of numbers (`site_adapter`), and what is judged comes through `results_adapter`.
"""
