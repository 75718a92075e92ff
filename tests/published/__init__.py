"""Check values from outside the project, as data, and the functions of overbank that must meet them."""
