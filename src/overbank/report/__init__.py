"""The report: figures, tables in words, and one self-contained page."""
