"""Scalar hydraulic formulas, one subject a file; every one is a compiled function of floats."""
