"""The study file: its tables, its checks, and what it builds."""
