"""Runs worked by hand: the steps from the flow to the level, a kind of structure a file."""
