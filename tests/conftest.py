"""Settings of all tests: on CI the random examples are the same on every run, so that a green commit stays green."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("repeatable")
