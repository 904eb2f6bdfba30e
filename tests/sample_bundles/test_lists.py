"""The demo's checksum lists, as coreutils takes them: the right ones hold, the wrong one fails."""

from __future__ import annotations

import codecs
import hashlib
import re
import shutil
import subprocess
import zipfile
from pathlib import Path

import pytest

from sample_bundles.make import make
from sample_bundles.scene import scene


def unpacked(folder: Path) -> Path:
    """The demo's folder with each sound archive unpacked beside itself, as `NAME.d`."""
    make(folder)
    todo = sorted(folder.rglob("*.zip"))
    while todo:
        path = todo.pop()
        if not zipfile.is_zipfile(path):
            continue
        beside = path.with_name(path.name + ".d")
        with zipfile.ZipFile(path) as archive:
            archive.extractall(beside)
        todo += beside.rglob("*.zip")
    return folder


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return unpacked(tmp_path_factory.mktemp("lists"))


def check(program: str, listed: Path) -> int:
    done = subprocess.run([program, "--strict", "-c", listed.name], cwd=listed.parent, capture_output=True, check=False)
    return done.returncode


@pytest.mark.outside
@pytest.mark.skipif(not shutil.which("sha256sum"), reason="needs coreutils")
@pytest.mark.parametrize(("place", "program", "code"), [
    ("bittern-12.04.0.zip.d/SHA256SUMS", "sha256sum", 0),
    ("bittern-12.04.0.zip.d/firmware-12.04.0.zip.d/SHA256SUMS", "sha256sum", 0),
    ("bittern-12.02.0.zip.d/CHECKSUM", "sha256sum", 0),
    ("old/bittern-11.02.0.zip.d/MD5SUMS", "md5sum", 0),
    ("Plover Überbleibsel/checksum.txt", "sha1sum", 0),
    ("heron/HERON.SHA", "sha256sum", 1),
    ("mirror/SHA256SUMS", "sha256sum", 1),
])
def test_coreutils_takes_them(folder, place, program, code):
    assert check(program, folder / place) == code


def test_the_other_spellings_are_true(folder):
    """OpenSSL's spelling, the digest alone, and UTF-16 with backslashes: read here by hand."""
    openssl = (folder / "heron_autumn_2024.zip.d" / "heron.sha256.txt").read_text()
    rows = [re.fullmatch(r"SHA256\((.+)\)= ([0-9a-f]{64})", line).groups() for line in openssl.splitlines()]
    assert len(rows) == 9
    for name, digest in rows:
        assert hashlib.sha256((folder / "heron_autumn_2024.zip.d" / name).read_bytes()).hexdigest() == digest
    bare = (folder / "heron" / "HNCFGP.BIN.sha256").read_text()
    assert bare.strip() == hashlib.sha256((folder / "heron" / "HNCFGP.BIN").read_bytes()).hexdigest()
    wide = (folder / "plover-2.3.1.zip.d" / "checksums.txt").read_bytes()
    assert wide.startswith(codecs.BOM_UTF16_LE)
    for line in wide.decode("utf-16").splitlines():
        digest, _, name = line.partition(" *")
        data = (folder / "plover-2.3.1.zip.d" / name.replace("\\", "/")).read_bytes()
        assert hashlib.sha256(data).hexdigest().upper() == digest


@pytest.mark.outside
@pytest.mark.skipif(not shutil.which("openssl"), reason="needs openssl")
def test_openssl_writes_that_spelling(folder):
    """`openssl dgst -r`'s older sister: the part before `= ` names algorithm and file."""
    call = ["openssl", "dgst", "-sha256", "HNCFGP.BIN"]
    told = subprocess.run(call, cwd=folder / "heron", capture_output=True, text=True, check=True).stdout
    ours = next(line for line in (folder / "heron_autumn_2024.zip.d" / "heron.sha256.txt").read_text().splitlines()
                if "HNCFGP" in line)
    assert told.strip().replace("SHA2-256", "SHA256") == ours


def test_the_wrong_list_names_a_file_beside_it():
    wrong = next(item for item in scene() if item.name == "heron/HERON.SHA")
    named = wrong.data.decode().split()[1]
    assert any(item.name == f"heron/{named}" for item in scene())
