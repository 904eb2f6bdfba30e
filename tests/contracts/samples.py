"""Sound and broken pieces of every format, for the battery that each row of the readers' table passes.

A part that brings a reader brings its samples: a tuple of `Sample` in its own tests, and one line here. A sample is at
most 8 KiB, so that every prefix of it can be read; where the format begins far behind, at most 64 KiB, mostly zeros.
"""

from __future__ import annotations

from tests.contracts.sample import Sample
from tests.formats import (
    detached_samples,
    disk_samples,
    key_samples,
    other_samples,
    pack_samples,
    package_samples,
    rom_samples,
    stream_samples,
)

SAMPLES: tuple[Sample, ...] = (
    *rom_samples.SAMPLES,
    *other_samples.SAMPLES,
    *package_samples.SAMPLES,
    *detached_samples.SAMPLES,
    *stream_samples.SAMPLES,
    *pack_samples.SAMPLES,
    *key_samples.SAMPLES,
    *disk_samples.SAMPLES,
)
