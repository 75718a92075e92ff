"""What stands in the water, as a study writes it: a kind of element a file."""
