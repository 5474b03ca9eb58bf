"""Settings that all tests share."""

import os

from hypothesis import settings

# Timings belong into benchmarks: a slow machine must not turn a property into a failure.
# `HYPOTHESIS_PROFILE=long` tries more examples, and other ones in every run.
settings.register_profile("quick", deadline=None, derandomize=True, max_examples=100)
settings.register_profile("long", deadline=None, max_examples=2000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "quick"))
