"""A written medium on a real FAT file system, made and read by mtools and dosfstools (Debian packages)."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from catalogue.media.read_back import read_back
from catalogue.media.write_out import write
from tests.media.making import CODE, FAMILY, KIT, NAMES, opener, other_kit

pytestmark = [
    pytest.mark.outside,
    pytest.mark.skipif(
        not all(shutil.which(tool) for tool in ("mkfs.vfat", "fsck.vfat", "mcopy", "mdir")),
        reason="needs dosfstools and mtools",
    ),
]


def tool(*words, **more):
    return subprocess.run(words, check=True, capture_output=True, text=True, **more).stdout


@pytest.mark.parametrize(("kind", "size"), [("12", 1_440), ("16", 16_384), ("32", 66_000)])
def test_a_medium_goes_to_fat_and_back_with_every_name_and_byte(tmp_path, kind, size):
    """Every name is a short name of its own: no long-name entry in any folder, so DOS sees what the run sheet says."""
    medium, image, back = tmp_path / "medium", tmp_path / "image", tmp_path / "back"
    medium.mkdir()
    back.mkdir()
    kit, family, content = other_kit()
    write(KIT, FAMILY, opener(), medium)
    write(kit, family, opener(content), medium)
    tool("mkfs.vfat", "-F", kind, "-C", str(image), str(size))
    tool("mcopy", "-s", "-i", str(image), *(str(one) for one in medium.iterdir()), "::")
    tool("fsck.vfat", "-n", str(image))
    bare = tool("mdir", "-/", "-b", "-i", str(image), "::").splitlines()
    assert f"::/{CODE}/FIRM1204.BIN" in bare
    assert {line.removeprefix(f"::/{CODE}/") for line in bare if line.startswith(f"::/{CODE}/")} >= NAMES
    assert long_entries(image.read_bytes()) == 0
    tool("mcopy", "-s", "-i", str(image), "::*", str(back))
    done = read_back(back)
    assert (done.read_back, done.findings) == ("same", ())
    for code in (CODE, "PLOV-1AB"):
        tool("sha256sum", "--strict", "-c", "SHA256.SUM", cwd=back / code)


def long_entries(data: bytes) -> int:
    """Directory entries with the attribute of a long name (0Fh) in every cluster that begins a folder.

    Source: Microsoft FAT specification: a folder's first entry is ".", attribute 10h; the root is found by KITS.TXT.
    """
    count = 0
    for sector in range(0, len(data), 512):
        block = data[sector : sector + 512]
        if block.startswith(b".          \x10") or b"KITS    TXT" in block:
            entries = [block[at : at + 32] for at in range(0, 512, 32)]
            count += sum(1 for entry in entries if entry[11] == 0x0F and entry[0] not in (0, 0xE5))
    return count


def test_the_count_of_long_entries_sees_one(tmp_path):
    """The check itself can fail: a long name makes such an entry."""
    image = tmp_path / "image"
    (tmp_path / "KITS.TXT").write_bytes(b"x")
    (tmp_path / "a long name.txt").write_bytes(b"x")
    tool("mkfs.vfat", "-C", str(image), "1440")
    tool("mcopy", "-i", str(image), str(tmp_path / "KITS.TXT"), str(tmp_path / "a long name.txt"), "::")
    assert long_entries(image.read_bytes()) > 0
