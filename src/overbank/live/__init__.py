"""A study's site on a page of this machine's browser, whose numbers are moved by hand and answered by the model."""
