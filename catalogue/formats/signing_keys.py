"""Public keys that sign files, and what one of them says of a signature that lies beside a file.

Two kinds: OpenPGP certificates (RFC 9580, 10.1) and the text form of Ed25519 keys that minisign and OpenBSD's signify
write. What a key says is one of four states:

*holds*: the key made the signature over these very bytes, and may sign.
*broken*: the signature names the key, and is not the key's signature over these bytes.
*unproved*: it cannot be relied on, and does not speak against the bytes either: the key or the signature has expired or
was revoked, the digest is too weak, the form is not one that covers every byte.
*other*: the signature names another key.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

HOLDS, BROKEN, UNPROVED, OTHER = "holds", "broken", "unproved", "other"
OPENPGP, ED25519 = "openpgp", "ed25519"
MAX_KEY_BYTES = 1 << 20
"""Bytes of a file with public keys (real ones: 100 bytes to 200 kB)."""
MAX_KEYS = 64
"""Keys of one file."""


class NotAKeyError(ValueError):
    """The bytes are no public key that signs; the text says why."""


@dataclass(frozen=True, slots=True)
class Key:
    """One public key. `ids` are all that a signature may name it by, lower-case hex; `body` is the key itself.

    `expires` is an ISO time by UTC, "" for never. `holder` is whom the key names, "" for nobody.
    """

    kind: str
    fingerprint: str
    holder: str
    ids: tuple[str, ...]
    body: bytes
    expires: str = ""
    revoked: bool = False


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a key says of a signature: the state, why, the digest it rests on, until when it holds ("" for ever)."""

    state: str
    why: str = ""
    algorithm: str = ""
    until: str = ""


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
