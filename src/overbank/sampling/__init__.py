"""Samples of all uncertain numbers, the site run on them, and the ladders that the answers are read from."""
