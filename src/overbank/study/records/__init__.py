"""Looks at a screen, and floods seen, as a study names them."""
