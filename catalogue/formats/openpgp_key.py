"""OpenPGP certificates, and the signatures by them.

RFC 9580: 5.2.4 (what is hashed), 10.1 (certificates). The cryptography, and the rules on which keys may sign and which
digests are strong enough, are those of the Sequoia library through PyPI `pysequoia` (Apache-2.0; released every month
or two; typed; wheels for Linux, Windows and macOS). It answers yes or no. Where it says no, the digest's first two
octets, which every signature packet states, tell bytes that were not signed from a signature it will not rely on.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from catalogue.formats.limits import MAX_SIGNATURES
from catalogue.formats.openpgp_armour import BEGIN, unarmour
from catalogue.formats.openpgp_packets import HASHES, DamagedError, SignaturePacket, packets
from catalogue.formats.signing_keys import MAX_KEYS, NotAKeyError, best
from catalogue.shapes.signing import BROKEN, HOLDS, OPENPGP, OTHER, UNPROVED, Key, Verdict

if TYPE_CHECKING:
    from pysequoia import Cert

WEAK = ("md5", "sha1", "ripemd160")
"""RFC 9580, 9.5: digests that a signature must not be relied on with."""
BINARY, TEXT = 0x00, 0x01
_HASHLIB = {"sha3-256": "sha3_256", "sha3-512": "sha3_512"}
RSA, DSA = (1, 3), 17
_LEAST_RSA = 2_000
"""Bits of an RSA signature by a key of 2,048 bits, but for a chance of one in 2^48 (RFC 9580, 12.4: none smaller)."""
_MAX_HOLDER = 200
_MAX_PACKETS = 10_000


def read(data: bytes) -> tuple[Key, ...]:
    """The certificates in `data`, binary or armoured. Raises NotAKeyError."""
    from pysequoia import Cert
    from pysequoia.packet import PacketPile, Tag

    try:
        pile = PacketPile.from_bytes(data)
        if len(pile) > _MAX_PACKETS:
            raise NotAKeyError(f"it holds more than {_MAX_PACKETS} packets")
        if any(one.tag in (Tag.SecretKey, Tag.SecretSubkey) for one in pile):
            raise NotAKeyError("it holds a secret key; record the public one, and keep this one to its owner")
        found = Cert.split_bytes(data)
    except RuntimeError as error:
        raise NotAKeyError(f"it is no public key ({_first_line(error)})") from error
    if not found:
        raise NotAKeyError("no public key stands in it")
    if len(found) > MAX_KEYS:
        raise NotAKeyError(f"it holds more than {MAX_KEYS} keys")
    return tuple(map(_key, found))


def merged(old: bytes, new: bytes) -> Key:
    """One certificate of two for the same key, so that no revocation that was known is lost. Raises NotAKeyError."""
    from pysequoia import Cert

    try:
        return _key(Cert.from_bytes(old).merge(Cert.from_bytes(new)))
    except RuntimeError as error:
        raise NotAKeyError(f"it cannot be joined with what is recorded ({_first_line(error)})") from error


def _key(cert: Cert) -> Key:
    from pysequoia.packet import PacketPile

    body = bytes(cert)
    try:
        users, expires, revoked = cert.user_ids, _iso(cert.expiration), cert.is_revoked
    except RuntimeError as error:
        raise NotAKeyError(f"the key is one not to be relied on ({_first_line(error)})") from error
    ids: list[str] = []
    for one in PacketPile.from_bytes(body):
        if one.fingerprint is not None:
            ids += [one.fingerprint, one.key_id or ""]
    return Key(
        kind=OPENPGP,
        fingerprint=cert.fingerprint,
        holder=str(users[0])[:_MAX_HOLDER] if users else "",
        ids=tuple(one for one in dict.fromkeys(ids) if one),
        body=body,
        expires=expires,
        revoked=revoked,
    )


def check(key: Key, signature: bytes, data: bytes, now: datetime, *, text: bool) -> Verdict:
    """What `key` says of the detached signatures in `signature` beside `data`."""
    raw = unarmour(signature).packets if signature.startswith(BEGIN) else signature
    try:
        found = list(packets(raw))[:MAX_SIGNATURES]
    except (DamagedError, IndexError):
        return Verdict(UNPROVED, "The signature is damaged.")
    mine = [one for one in found if names(key, one)]
    return best([_one(key, one, raw[one.start : one.end], data, now, text=text) for one in mine])


def check_clear(key: Key, signed: bytes, found: list[SignaturePacket], now: datetime) -> tuple[Verdict, bytes]:
    """What `key` says of text that is signed in the clear, and the text that it signed (b"" unless it holds).

    `found` are the signature packets in it. The text is the library's: what stands around it is not in it.
    """
    mine = [one for one in found[:MAX_SIGNATURES] if names(key, one)]
    if not mine:
        return Verdict(OTHER, "It names another key."), b""
    refused = [why for one in mine if (why := _refused(key, one, now))]
    if len(refused) == len(mine):
        return Verdict(UNPROVED, refused[0], HASHES[mine[0].hash]), b""
    text = _verified(key, signed, None)
    if text is None:
        return Verdict(BROKEN, "The key did not sign this text.", HASHES[mine[0].hash]), b""
    until = min((one for one in (key.expires, *map(_until, mine)) if one), default="")
    return Verdict(HOLDS, "", HASHES[mine[0].hash], until), text


def names(key: Key, one: SignaturePacket) -> bool:
    """Whether a signature says that it was made by this key or one of its subkeys."""
    return (one.fingerprint or one.key_id) in key.ids


def _one(key: Key, one: SignaturePacket, raw: bytes, data: bytes, now: datetime, *, text: bool) -> Verdict:
    how = HASHES[one.hash]
    if one.type not in (BINARY, TEXT):
        return Verdict(UNPROVED, "It signs no file.", how)
    if one.type == BINARY and not _starts_right(one, data):
        return Verdict(BROKEN, "These are not the bytes that were signed: their digest is another.", how)
    if one.type == TEXT and not text:
        return Verdict(UNPROVED, "It was made for text, and leaves line ends out of what it covers.", how)
    refused = _refused(key, one, now)
    if refused:
        return Verdict(UNPROVED, refused, how)
    if _verified(key, data, raw) is None:
        why = _may_not(key, one)
        return Verdict(UNPROVED, why, how) if why else Verdict(BROKEN, "The key did not sign these bytes.", how)
    until = min((one for one in (key.expires, _until(one)) if one), default="")
    return Verdict(HOLDS, "", how, until)


def _starts_right(one: SignaturePacket, data: bytes) -> bool:
    """Whether the digest has the first two octets that the signature states (RFC 9580, 5.2.4); True where not known."""
    name = HASHES[one.hash]
    try:
        hashed = hashlib.new(_HASHLIB.get(name, name), one.salt, usedforsecurity=False)
    except ValueError:
        return True
    hashed.update(data)
    hashed.update(one.covered)
    return hashed.digest()[:2] == one.prefix


def _refused(key: Key, one: SignaturePacket, now: datetime) -> str:
    """Why a signature is not relied on, whatever it covers; "" for no reason."""
    moment = _iso(now)
    if key.revoked:
        return "The key was revoked."
    if key.expires and key.expires <= moment:
        return f"The key expired on {key.expires[:10]}; record it anew if its maker has prolonged it."
    if HASHES[one.hash] in WEAK:
        return f"It rests on {HASHES[one.hash]}, a digest for which other bytes can be made."
    until = _until(one)
    if until and until <= moment:
        return f"The signature expired on {until[:10]}."
    if one.created is None or _iso(datetime.fromtimestamp(one.created, UTC) - timedelta(days=1)) > moment:
        return "The signature says that it was made in the future, or not when."
    return ""


def _until(one: SignaturePacket) -> str:
    if not one.lifetime or one.created is None:
        return ""
    return _iso(datetime.fromtimestamp(min(one.created + one.lifetime, 253_402_300_799), UTC))


def _may_not(key: Key, one: SignaturePacket) -> str:
    """Why the key that a signature names may sign no files, as its certificate says; "" where it says nothing such.

    Asked only where the library said no, and to tell why: nothing is vouched for by the answer.
    """
    from pysequoia.packet import PacketPile, SignatureType

    if (one.key in RSA and one.bits < _LEAST_RSA) or one.key == DSA:
        return "The key that made it is too weak to be relied on."
    here, may, revoked, said = False, False, False, False
    for packet in PacketPile.from_bytes(key.body):
        if packet.fingerprint is not None:
            here = (one.fingerprint or one.key_id) in (packet.fingerprint, packet.key_id)
        elif here and packet.key_flags is not None:
            may, said = may or packet.key_flags.signing, True
        if here and packet.signature_type in (SignatureType.SubkeyRevocation, SignatureType.KeyRevocation):
            revoked = True
    if revoked:
        return "The key that made it was revoked."
    if said and not may:
        return "The key that made it was not made for signing files."
    return ""


def _verified(key: Key, data: bytes, signature: bytes | None) -> bytes | None:
    """What the key signed, by the library; None where it did not. Without `signature`, `data` carries its own."""
    from pysequoia import Cert, Sig, verify

    try:
        cert = Cert.from_bytes(key.body)
        apart = None if signature is None else Sig.from_bytes(signature)
        done = verify(bytes=data, store=lambda _ids: [cert], signature=apart)
    except RuntimeError:
        return None
    if not any(one.certificate == key.fingerprint for one in done.valid_sigs):
        return None
    return done.bytes if done.bytes is not None else b""


def _iso(moment: datetime | None) -> str:
    return "" if moment is None else moment.astimezone(UTC).isoformat(timespec="seconds")


def _first_line(error: Exception) -> str:
    return str(error).split("\n", 1)[0][:120].rstrip(".")
