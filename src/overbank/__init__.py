"""overbank: how high the water stands upstream of a structure, and how much blockage to allow."""

__version__ = "0.1.0"
