"""The whole downloads folder of the Saltmarsh College bench, as things in memory."""

from __future__ import annotations

from functools import cache

from sample_bundles import bittern, heron, junk, lists, plover
from sample_bundles.item import Item


@cache
def scene() -> tuple[Item, ...]:
    """Every file of the folder, archives with their members, in order of name."""
    every = (*bittern.about(), *heron.about(), *plover.about(), *junk.items())
    return tuple(sorted(every, key=lambda item: item.name))


def manifest(items: tuple[Item, ...]) -> bytes:
    """A checksum list over the files of the folder, in coreutils' spelling."""
    return lists.coreutils(items)
