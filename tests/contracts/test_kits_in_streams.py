"""Kits judged from outside whose pieces lie in tar archives and compressed streams, and what speaks against them."""

from __future__ import annotations

import bz2
import gzip
import hashlib
import io
import lzma
import tarfile
from collections.abc import Callable, Mapping

import pytest
from backports import zstd

from catalogue.intake import bounds
from tests.contracts.test_kits_outside import Bench, bench, firmware, sound, stops

__all__ = ["bench"]

PACK: dict[str, Callable[[bytes], bytes]] = {
    "tar": bytes,
    "tar.gz": lambda data: gzip.compress(data, mtime=0),
    "tar.xz": lzma.compress,
    "tar.bz2": bz2.compress,
    "tar.zst": lambda data: zstd.compress(data, options={zstd.CompressionParameter.checksum_flag: 1}),
}
ALONE: Mapping[str, None] = dict.fromkeys(sound())


def tarred(files: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w") as archive:
        for name, data in files.items():
            one = tarfile.TarInfo(name)
            one.size = len(data)
            archive.addfile(one, io.BytesIO(data))
    return out.getvalue()


def named(made: Bench, *data: bytes) -> None:
    """A recorded list of these contents: a person says where their digests come from."""
    lines = "".join(f"{hashlib.sha256(one).hexdigest()}  piece{number}\n" for number, one in enumerate(data))
    (made.folder / "pieces.sha256").write_text(lines)
    assert made.call("vouch", "--list", str(made.folder / "pieces.sha256"), "--source", "page", "--by", "Ada")[0] == 0


@pytest.mark.parametrize("how", PACK)
def test_a_kit_out_of_an_archive_is_ready(how: str, bench: Callable[..., Bench]) -> None:
    made = bench({**ALONE, f"bundle.{how}": PACK[how](tarred(sound()))})
    named(made, *sound().values())
    kit = made.kit()
    assert kit["verdict"] == "ready", stops(kit)
    (made.folder / "medium").mkdir()
    code, done = made.call("write-out", "corvane-curlew", str(made.folder / "medium"))
    assert (code, done["read_back"]) == (0, "same")


@pytest.mark.parametrize("how", PACK)
def test_a_named_archive_names_its_members(how: str, bench: Callable[..., Bench]) -> None:
    made = bench({**ALONE, f"bundle.{how}": PACK[how](tarred(sound()))})
    kit = made.kit()
    assert kit["verdict"] == "ready", stops(kit)
    assert {one["vouch"] for one in kit["roles"]} == {"named"}


@pytest.mark.parametrize("how", [one for one in PACK if one != "tar"])
def test_a_damaged_archive_gives_no_kit(how: str, bench: Callable[..., Bench]) -> None:
    data = bytearray(PACK[how](tarred(sound())))
    data[len(data) // 2] ^= 0x10
    made = bench({**ALONE, f"bundle.{how}": bytes(data)})
    named(made, *sound().values())
    assert made.kit()["verdict"] == "not-ready"


def test_a_bit_flipped_inside_a_tar_waits_for_a_word(bench: Callable[..., Bench]) -> None:
    """The header's sum of a tar covers no content: only what vouches for the pieces themselves can tell."""
    changed = bytearray(firmware())
    changed[5_000] ^= 1
    made = bench({"fw.bin": None, **nothing_named(bytes(changed))})
    kit = made.kit()
    assert ("unvouched", "firmware") in stops(kit)


@pytest.mark.parametrize("limit", [None, 1 << 14])
def test_a_tar_whose_gzip_fails_its_check_gives_no_kit(
    limit: int | None, bench: Callable[..., Bench], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One bit in a utility, which need not be vouched for: the stream's check speaks against all that lies in it."""
    if limit is not None:
        monkeypatch.setattr(bounds, "MAX_MEMBER_BYTES", limit)
    plain = tarred(sound())
    right = gzip.compress(plain, 0, mtime=0)
    at = plain.index(sound()["QH.EXE"]) + 900
    changed = plain[:at] + bytes([plain[at] ^ 1]) + plain[at + 1 :]
    wrong = gzip.compress(changed, 0, mtime=0)[:-8] + right[-8:]
    made = bench({**ALONE, "bundle.tar.gz": wrong})
    named(made, *sound().values())
    kit = made.kit()
    assert kit["verdict"] == "not-ready"
    assert ("archive-damaged", "writer") in stops(kit)


def nothing_named(data: bytes) -> dict[str, bytes]:
    """A tar in a zip: the bench's list leaves zips out, so nobody names what lies inside."""
    import zipfile

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("bundle.tar", tarred({"fw.bin": data}))
    return {"bundle.zip": out.getvalue()}


def test_the_same_member_twice_with_other_bytes_stops(bench: Callable[..., Bench]) -> None:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w") as archive:
        for data in (firmware(), firmware(seed=2)):
            one = tarfile.TarInfo("fw.bin")
            one.size = len(data)
            archive.addfile(one, io.BytesIO(data))
    made = bench({"fw.bin": None, "bundle.tar": out.getvalue()})
    named(made, firmware())
    kit = made.kit()
    assert kit["verdict"] == "not-ready"
    assert "archive-damaged" in {code for code, _role in stops(kit)}
