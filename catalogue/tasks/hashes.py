"""From the beginning of a hash to the whole of it."""

from __future__ import annotations

import re

from catalogue.errors import BadCall
from catalogue.store import Store

HEX = re.compile(r"[0-9a-f]{4,64}")


def whole_hash(store: Store, begins: str) -> str:
    """The one SHA-256 of the catalogue that begins so. Raises BadCall for none, several, or what is no hash."""
    begins = begins.lower()
    if HEX.fullmatch(begins) is None:
        raise BadCall(f"{begins} is no SHA-256 or beginning of one: give 4 to 64 hex digits.")
    found = store.hashes_beginning(begins, limit=3)
    if not found:
        raise BadCall(f"No piece of the catalogue has a SHA-256 that begins with {begins}. Index its folder first.")
    if len(found) > 1:
        raise BadCall(f"Several pieces begin with {begins}: {', '.join(one[:16] for one in found)}. Give more digits.")
    return found[0]
