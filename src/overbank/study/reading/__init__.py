"""From the text of a study file to checked tables, and every fault with its place."""
