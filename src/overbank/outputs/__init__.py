"""What a run finds, an output a file: its result, how it is found and from what, its tables, its share of the summary.

`registry` lists them in the order in which they are found.
"""
