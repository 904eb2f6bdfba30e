"""Make an input that breaks the promise smaller, while it breaks it in the same way (delta debugging)."""

from __future__ import annotations

import time
from collections.abc import Callable


def smaller(data: bytes, still: Callable[[bytes], bool], seconds: float = 60) -> bytes:
    """A shorter and plainer input for which `still` holds, as far as `seconds` go. `still(data)` must hold."""
    end = time.monotonic() + seconds
    step = max(1, len(data) // 2)
    while step and time.monotonic() < end:
        at, cut = 0, False
        while at < len(data) and time.monotonic() < end:
            tried = data[:at] + data[at + step :]
            if still(tried):
                data, cut = tried, True
            else:
                at += step
        if not cut or step > len(data):
            step = min(step, len(data)) // 2
    step = 64
    while step and time.monotonic() < end:
        for at in range(0, len(data), step):
            part = data[at : at + step]
            if any(part) and still(tried := data[:at] + bytes(len(part)) + data[at + step :]):
                data = tried
            if time.monotonic() > end:
                break
        step //= 8
    return data
