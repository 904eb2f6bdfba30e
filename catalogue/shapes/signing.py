"""Public keys that sign files, and what one of them says of a signature that lies beside a file.

What a key says is one of four states:

*holds*: the key made the signature over these very bytes, and may sign.
*broken*: the signature names the key, and is not the key's signature over these bytes.
*unproved*: it cannot be relied on, and does not speak against the bytes either: the key or the signature has expired or
was revoked, the digest is too weak, the form is not one that covers every byte.
*other*: the signature names another key.
"""

from __future__ import annotations

from dataclasses import dataclass

HOLDS, BROKEN, UNPROVED, OTHER = "holds", "broken", "unproved", "other"
OPENPGP, ED25519 = "openpgp", "ed25519"


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
