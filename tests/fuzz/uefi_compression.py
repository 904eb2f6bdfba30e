"""Our unpacking of UEFI compression against PyPI `uefi-firmware`, both ways, on random inputs and damaged streams.

`python -m tests.fuzz.uefi_compression [SEED [COUNT]]` runs COUNT rounds (100,000) and says what it saw; a sample of it
is a test. Damaged streams make that library's decoder keep memory, so a long campaign is run in several processes.
"""

from __future__ import annotations

import random
import sys
from collections import Counter

from catalogue.formats.uefi_compression import unpack
from tests.formats.build_rom import driver

ENDS = (
    "Bits that belong to no block follow the last one.",
    "The stream ends before its last symbol.",
    "It makes more than the",
    "A block of",
    "The lengths of a code do not make a complete code.",
    "A run of code lengths goes past the last of them.",
    "A code of",
    "A match begins before the first byte.",
    "Symbol",
    "It says that it takes",
    "It ends inside its two sizes.",
)
"""What may be said of a stream that the library takes: where it pads, stops early or does not look."""


def made(chance: random.Random) -> bytes:
    """A random input: noise, few letters, words, runs, or a stretch of machine code's statistics."""
    length = chance.choice((0, 1, 2, 3, 4, chance.randrange(64), chance.randrange(1024), chance.randrange(20_000)))
    kind = chance.randrange(5)
    if kind == 0:
        return chance.randbytes(length)
    if kind == 1:
        return bytes(chance.choices(b"abc"[: chance.randrange(1, 4)], k=length))
    if kind == 2:
        words = [chance.randbytes(chance.randrange(1, 30)) for _ in range(chance.randrange(1, 40))]
        return b"".join(chance.choices(words, k=length // 8 + 1))[:length]
    if kind == 3:
        out = b""
        while len(out) < length:
            out += chance.randbytes(1) * chance.choice((1, 2, 3, 255, 256, 257, 300, 9000))
        return out[:length]
    weights = [1 / (1 + at) for at in range(256)]
    return bytes(chance.choices(range(256), weights, k=length))


def damaged(stream: bytes, chance: random.Random) -> bytes:
    """One change, or a few; the declared size is left alone, so that no round takes long."""
    data = bytearray(stream)
    for _ in range(chance.choice((1, 1, 2, 5))):
        kind = chance.randrange(3)
        at = chance.randrange(min(8, len(data)), len(data) + 1)
        if kind == 0 and at < len(data):
            data[at] ^= 1 << chance.randrange(8)
        elif kind == 1 and at < len(data):
            data[at] = chance.randrange(256)
        else:
            del data[at:]
            data[:4] = max(0, len(data) - 8).to_bytes(4, "little")
    return bytes(data)


def rounds(seed: int, count: int) -> Counter[str]:
    """`count` rounds; raises AssertionError where both disagree. Needs `uefi-firmware`."""
    from uefi_firmware import efi_compressor as other

    chance = random.Random(seed)
    saw: Counter[str] = Counter()
    for number in range(count):
        data = made(chance)
        if number % 2:
            data = driver(body=data[:16]) + data
        packed = other.EfiCompress(data, len(data))
        mine = unpack(packed)
        assert mine.data == data, (seed, number, mine.why)
        assert mine.length == len(packed)
        saw["packed there, unpacked here"] += 1
        tiano = unpack(other.TianoCompress(data, len(data)))
        if tiano.data is None:
            saw["Tiano refused"] += 1
        else:
            # Where no match stands in a block the two kinds may differ in two bits that change only its first bytes.
            assert tiano.data == data or not tiano.data.startswith(b"MZ"), (seed, number)
            saw["Tiano taken, " + ("the same bytes" if tiano.data == data else "other bytes, no driver")] += 1
        hurt = damaged(packed, chance)
        mine = unpack(hurt)
        try:
            theirs = bytes(other.EfiDecompress(hurt, len(hurt)))
        except Exception:
            theirs = None
        if mine.data is not None:
            assert theirs == mine.data, (seed, number)
            saw["damaged, taken by both alike"] += 1
        else:
            assert mine.damaged, (seed, number, mine.why)
            assert mine.why.startswith(ENDS), (seed, number, mine.why)
            saw["damaged, refused here" + ("" if theirs is None else " only")] += 1
    return saw


if __name__ == "__main__":
    arguments = [int(one) for one in sys.argv[1:]]
    for what, how_many in sorted(rounds(*(arguments + [0, 100_000][len(arguments) :])).items()):
        print(f"{how_many:8,}  {what}")
