"""What all tests share."""

from __future__ import annotations

from hypothesis import settings

# A machine that is busy with other tests is no fault of the code under test; what must be quick has a test of its own.
settings.register_profile("kitproof", deadline=None)
settings.load_profile("kitproof")
