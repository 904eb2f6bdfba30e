"""The id of a kit: one digest over all that its judgement rests on.

It covers the family file, the route, the pieces of each role, the pins, the host's facts, the texts of cards judged
with it, the words that count in this kit, and the version of the rules. Places, names and the day are not in it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence

from catalogue.shapes.kit import Pin, RoleChoice, SavedUsed, Word

RULES_VERSION = 6
"""Rises whenever a rule judges otherwise than before, so that a kit judged by older rules is judged again."""


def kit_id(
    family_files: Sequence[str],
    route: str,
    roles: Sequence[RoleChoice],
    pins: Sequence[Pin],
    words: Sequence[Word],
    host: str = "",
    saved: Sequence[SavedUsed] = (),
) -> str:
    """SHA-256 of the canonical JSON of all that counts, in lower-case hex.

    `family_files` are the SHA-256s of the family's own file and of those that a variant stands on; `host` is the
    digest of the host file and all it names, "" where none was given; `saved` are texts of cards judged with it.
    """
    counted = {
        "family": list(family_files),
        "route": route,
        "pieces": {one.role: list(one.pieces) for one in roles},
        "pins": sorted([one.role, one.sha256, one.reason] for one in pins),
        "host": {"digest": host} if host else {},
        "words": sorted([one.code, one.sha256, one.by, one.reason] for one in words),
        "rules": RULES_VERSION,
    }
    if saved:
        counted["saved"] = sorted(one.sha256 for one in saved)
    text = json.dumps(counted, ensure_ascii=True, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()
