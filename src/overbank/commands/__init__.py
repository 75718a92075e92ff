"""The commands, the terminal, many studies, processes."""
