"""What a run finds, as frozen figures, a subject a file. `overbank.outcome` holds them together."""
