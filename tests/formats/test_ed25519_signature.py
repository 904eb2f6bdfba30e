"""Detached Ed25519 signatures in text form: by hand, and minisign's own."""

from __future__ import annotations

import base64
import re
import subprocess
from pathlib import Path

import pytest

from catalogue import formats
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading
from tests.formats.build_detached import ed25519
from tests.reference import debian


def read(data: bytes) -> Reading:
    reading = formats.read(BytesView(data))
    assert reading.kind == "signature/ed25519"
    return reading


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("trusted", [False, True])
def test_what_a_signature_says(trusted: bool, end: str):
    data = ed25519(trusted=trusted, end=end)
    reading = read(data)
    assert reading.title == "Ed25519 signature by key 0706050403020100"
    assert reading.value("algorithm") == "Ed25519 of the file's BLAKE2b-512 digest"
    assert reading.value("untrusted_comment") == "signature of a bundle"
    assert reading.value("trusted_comment") == ("file:bundle.zip" if trusted else None)
    assert [one.code for one in reading.notes] == ["signature-unchecked"]
    for one in reading.fields:
        if one.name.endswith("comment"):
            assert one.offset is not None
            assert str(one.value).encode() in data[one.offset : one.offset + one.length]


def test_what_is_none():
    key = b"untrusted comment: public key\n" + base64.b64encode(b"Ed" + bytes(40)) + b"\n"
    for data in (key, b"untrusted comment: x", b"untrusted comment: x\nno base64\n", ed25519(b"EX" + bytes(72))):
        assert formats.read(BytesView(data)).kind == "text"


def test_text_behind_it():
    assert [one.code for one in read(ed25519() + b"\n\n").notes] == ["signature-unchecked"]
    assert [one.code for one in read(ed25519() + b"more\n").notes] == ["signature-unchecked", "data-after-end"]
    assert "data-after-end" in {one.code for one in read(ed25519() + b"\n" * 20_000).notes}


@pytest.mark.outside
@pytest.mark.parametrize("way", [[], ["-l"]])
def test_minisign(tmp_path: Path, way: list[str]):
    """Debian's `minisign` signs with a key made here; the key's id is the one it prints, without leading zeros."""
    program = debian.program("minisign", "usr/bin/minisign")

    def run(*words: str) -> str:
        done = subprocess.run([program, *words], capture_output=True, text=True, cwd=tmp_path, check=False, timeout=60)
        if done.returncode:
            pytest.skip(f"minisign does not work here: {done.stderr[:200]}")
        return done.stdout

    run("-G", "-W", "-f", "-p", "key.pub", "-s", "key")
    (tmp_path / "bundle").write_bytes(b"a bundle")
    run("-S", "-W", *way, "-s", "key", "-m", "bundle", "-x", "sig", "-t", "Saltmarsh College")
    reading = read((tmp_path / "sig").read_bytes())
    said = re.search(r"key ([0-9A-F]{1,16})\b", (tmp_path / "key.pub").read_text())
    assert said
    assert reading.value("key_id") == said[1].zfill(16)
    assert reading.value("trusted_comment") == "Saltmarsh College"
    assert str(reading.value("algorithm")).endswith("bytes" if way else "digest")
    assert formats.read(BytesView((tmp_path / "key.pub").read_bytes())).kind == "text"
