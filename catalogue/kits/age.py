"""Current, stale, withdrawn or unknown: how a piece stands to what the family knows of newer ones.

Decisions on sentences of the contract:
- A piece that the newest release that lists its role claims is current, whatever other versions are known; an older
  version may be what the maker went back to. A release whose entry is withdrawn whole does not count.
- A withdrawn version is never "a newer one".
- A piece claimed by digest, by an older release only, is stale even where no version is known.
- Above all that is known nothing can be said: unknown, not current.
"""

from __future__ import annotations

from catalogue.kits.known import Known, Version


def age(known: Known, sha256: str, version: Version | None) -> str:
    """current, stale, withdrawn or unknown."""
    if known.taken_back(sha256, version):
        return "withdrawn"
    if known.latest is not None and known.claims(known.latest, sha256, version):
        return "current"
    if known.is_beyond(sha256, version):
        return "unknown"
    if version is not None and known.newest is not None and known.order.speaks_of(version.name):
        return "stale" if known.compare(version.name, known.newest) < 0 else "current"
    return "stale" if sha256 in known.digests else "unknown"
