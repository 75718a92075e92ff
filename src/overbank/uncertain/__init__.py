"""Uncertain numbers: distributions, their dependence, and the designs that sample them.

All work is in normal scores z: a uniform number u becomes z = Phi^-1(u), dependence is a Gaussian copula on
z, and a distribution turns z into a physical value. Both tails stay exact: neither u nor 1 - u is rounded.
"""
