"""Physical constants, SI."""

GRAVITY = 9.81
"""Acceleration due to gravity [m/s2]; the value of the published worked examples."""

WATER_DENSITY = 1000.0
"""Density of fresh water [kg/m3]."""
