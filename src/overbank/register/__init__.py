"""Many structures in one table: each read as a small study, run on the same points, ranked, and weighed in a budget."""
