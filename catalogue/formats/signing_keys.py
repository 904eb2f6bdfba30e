"""Public keys in files, and asking them of signatures.

Two kinds: OpenPGP certificates (RFC 9580, 10.1) and the text form of Ed25519 keys that minisign and OpenBSD's signify
write. What a key can say is told in `shapes.signing`.
"""

from __future__ import annotations

from datetime import datetime

from catalogue.shapes.signing import BROKEN, ED25519, HOLDS, OTHER, UNPROVED, Key, Verdict

MAX_KEY_BYTES = 1 << 20
"""Bytes of a file with public keys (real ones: 100 bytes to 200 kB)."""
MAX_KEYS = 64
"""Keys of one file."""


class NotAKeyError(ValueError):
    """The bytes are no public key that signs; the text says why."""


def best(verdicts: list[Verdict]) -> Verdict:
    """What several signatures of one file say together: one that holds is enough, else a broken one counts."""
    for state in (HOLDS, BROKEN, UNPROVED):
        found = [one for one in verdicts if one.state == state]
        if found:
            return max(found, key=lambda one: (one.until == "", one.until)) if state == HOLDS else found[0]
    return Verdict(OTHER, "It names another key.")


def read_keys(data: bytes) -> tuple[Key, ...]:
    """The public keys in a file. Raises NotAKeyError."""
    from catalogue.formats import ed25519_key, openpgp_key

    if len(data) > MAX_KEY_BYTES:
        raise NotAKeyError(f"it is longer than {MAX_KEY_BYTES >> 10} KiB")
    found = ed25519_key.read(data)
    return (found,) if found is not None else openpgp_key.read(data)


def check(key: Key, signature: bytes, data: bytes, now: datetime, *, text: bool = False) -> Verdict:
    """What `key` says of the file `signature` beside the bytes `data`. `text`: line ends may differ, as in a list.

    Raises nothing for bytes of any kind.
    """
    from catalogue.formats import ed25519_key, openpgp_key

    if key.kind == ED25519:
        return ed25519_key.check(key, signature, data)
    return openpgp_key.check(key, signature, data, now, text=text)
