"""Archives that hold a sound piece and are themselves at fault (judging.md, "Lists and archives")."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable

from sample_bundles.item import Item
from sample_bundles.lists import bsd, coreutils, openssl
from tests.campaign.classes_bytes import ARCHIVES, put
from tests.campaign.grounds import Ground
from tests.campaign.mutant import FaultClass, Planted

GROUP = "lists and archives"
ZIPS = ("zip", "deflated zip")
Damage = Callable[[bytes], bytes]


def _in_archive(
    make: Callable[[bytes, random.Random], Damage],
) -> Callable[[Ground, str, random.Random], Planted | None]:
    def plant(ground: Ground, role: str, draw: random.Random) -> Planted | None:
        whole = ground.piece(role).data
        fellows = {one.name: one.data for one in ground.fellows(role)}
        files = {ground.piece(role).name: whole, **fellows}
        return Planted(files, whole, (), near=False, damage=make(whole, draw))

    return plant


def _bit(whole: bytes, draw: random.Random) -> Damage:
    """One bit within the packed bytes of the piece."""
    places = [draw.randrange(len(whole) - 16) for _ in range(200)]
    share, bit = draw.uniform(0.2, 0.6), draw.randrange(8)

    def damage(archive: bytes) -> bytes:
        found = (archive.find(whole[at : at + 16]) for at in places if len(set(whole[at : at + 16])) > 8)
        at = next((one + 8 for one in found if one >= 0), int(len(archive) * share))
        return archive[:at] + bytes([archive[at] ^ 1 << bit]) + archive[at + 1 :]

    return damage


def _cut(whole: bytes, draw: random.Random) -> Damage:
    share = draw.uniform(0.05, 0.5)
    return lambda archive: archive[: int(len(archive) * share)]


def _encrypted(whole: bytes, draw: random.Random) -> Damage:
    """Bit 0 of every member's flags (PKWARE APPNOTE 4.4.4)."""

    def damage(archive: bytes) -> bytes:
        data = bytearray(archive)
        end = data.rindex(b"PK\5\6")
        count, at = struct.unpack_from("<H", data, end + 10)[0], struct.unpack_from("<I", data, end + 16)[0]
        for _ in range(count):
            data[at + 8] |= 1
            data[struct.unpack_from("<I", data, at + 42)[0] + 6] |= 1
            at += 46 + sum(struct.unpack_from("<3H", data, at + 28))
        return bytes(data)

    return damage


def twice(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """The piece, and a changed one under the same name in the same archive."""
    whole = ground.piece(role)
    at = draw.randrange(len(whole.data))
    changed = whole.data[:at] + bytes([whole.data[at] ^ 1 << draw.randrange(8)]) + whole.data[at + 1 :]
    made = put(ground, role, whole.data, "archive-damaged")
    return Planted(made.files, whole.data, made.want, again=((whole.name, changed),))


def wrong_list(ground: Ground, role: str, draw: random.Random) -> Planted | None:
    """A list beside the sound piece that gives another digest for its very path, in one of several spellings."""
    whole = ground.piece(role)
    made = put(ground, role, whole.data, "contradicted")
    spell = draw.choice((coreutils, bsd, openssl))
    algorithm = draw.choice(("sha256", "sha512", "sha1", "md5"))
    listed = spell([Item(whole.name, draw.randbytes(64))], algorithm)
    return Planted({**made.files, "CHECKSUMS.txt": listed}, whole.data, made.want, note=algorithm)


CLASSES = (
    FaultClass(GROUP, "one bit in the archive", _in_archive(_bit), named=False, pinned=False, containers=ARCHIVES),
    FaultClass(GROUP, "the archive cut short", _in_archive(_cut), named=False, pinned=False, containers=ARCHIVES),
    FaultClass(GROUP, "an encrypted member", _in_archive(_encrypted), varied=False, named=False, pinned=False,
               containers=ZIPS),
    FaultClass(GROUP, "one name twice", twice, containers=("zip", "deflated zip", "zip in zip")),
    FaultClass(GROUP, "a list that says otherwise", wrong_list),
)  # fmt: skip
