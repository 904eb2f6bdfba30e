"""What all tests share."""

from __future__ import annotations

import os

from hypothesis import settings

# A machine that is busy with other tests is no fault of the code under test; what must be quick has a test of its own.
# What must pass everywhere tries the same cases each time; at a desk the cases are new ones.
settings.register_profile("kitproof", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("kitproof")
