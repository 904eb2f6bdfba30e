"""One thing that fuzzing tries: what runs an input, and where inputs begin."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Target:
    """`run` raises where more than the documented outcome comes out; fuzzing begins from `seeds`, never none."""

    name: str
    run: Callable[[bytes], object]
    seeds: Callable[[], Sequence[bytes]]
