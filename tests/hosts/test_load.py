"""Host files: strict reading, what they name, and the digest that stands in kit ids."""

from __future__ import annotations

import struct
import uuid
from pathlib import Path

import pytest

from catalogue.hosts import load
from catalogue.hosts.load import load_host
from tests.formats.build_keys import CERTIFICATE, IMAGE_SHA256, keys
from tests.formats.build_signature import ROOT

WHOLE = """schema = 1
name = "Rack nine"
as_of = 2026-05-02
[bench]
cpu = "x86-64"
boots = ["legacy", "uefi"]
secure_boot = false
[destination]
cpu = "aarch64"
boots = ["uefi"]
secure_boot = true
db = ["db.esl"]
dbx = ["dbx.esl", "more.esl"]
esrt = "esrt.txt"
"""
CLASS = "f2340011-0001-4002-8003-000000000064"
ENTRY = f"""entry0/fw_class:{CLASS}
entry0/fw_version:8
entry0/lowest_supported_fw_version:0x5
entry0/last_attempt_version:9
entry0/last_attempt_status:3
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "host.toml").write_text(WHOLE)
    (tmp_path / "db.esl").write_bytes(keys(CERTIFICATE, ROOT.der))
    (tmp_path / "dbx.esl").write_bytes(keys(IMAGE_SHA256, bytes(32)))
    (tmp_path / "more.esl").write_bytes(keys(IMAGE_SHA256, bytes(range(32))))
    (tmp_path / "esrt.txt").write_text(ENTRY)
    return tmp_path


def said(folder: Path, text: str) -> tuple[int, str]:
    """The one problem of a host file of this text."""
    (folder / "host.toml").write_text(text)
    loaded = load_host(folder / "host.toml")
    assert loaded.host is None
    (problem,) = loaded.problems
    return problem.line, problem.text


def test_all_that_is_told(folder):
    host = load_host(folder / "host.toml").host
    assert host is not None
    assert (host.bench.cpu, host.bench.boots, host.bench.secure_boot) == (0x8664, {"legacy", "uefi"}, False)
    assert (host.bench.db, host.bench.resources) == (None, None)
    machine = host.destination
    assert (machine.cpu, machine.secure_boot, machine.line("cpu")) == (0xAA64, True, 9)
    assert [(one.kind, one.name) for one in machine.db or ()] == [("certificate", "Saltmarsh Root")]
    assert [one.value for one in machine.dbx or ()] == [bytes(32), bytes(range(32))]
    (one,) = machine.resources or ()
    assert (one.type, one.version, one.lowest, one.last_version, one.status) == (CLASS.upper(), 8, 5, 9, 3)
    assert one.place.endswith("esrt.txt:1")
    assert load.named_files(folder / "host.toml") == ("db.esl", "dbx.esl", "more.esl", "esrt.txt")


def test_nothing_told_is_nothing_known(folder):
    (folder / "host.toml").write_text('schema = 1\nname = "Bare"\n')
    host = load_host(folder / "host.toml").host
    assert host is not None
    assert host.bench == host.destination
    assert (host.bench.cpu, host.bench.boots, host.bench.secure_boot, host.bench.db) == (None, None, None, None)


def test_the_digest_covers_what_is_named(folder):
    first = load_host(folder / "host.toml").host
    (folder / "dbx.esl").write_bytes(keys(IMAGE_SHA256, bytes(31) + b"\1"))
    second = load_host(folder / "host.toml").host
    assert first is not None and second is not None
    assert first.digest != second.digest


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ('schema = 2\nname = "x"\n', 1, "this program reads 1"),
        ("schema = 1\n", 1, "name is missing"),
        ('schema = 1\nname = "x"\n[bench]\ncpu = "z80"\n', 4, "must be ia32"),
        ('schema = 1\nname = "x"\n[bench]\nsecure-boot = true\n', 4, "did you mean secure_boot?"),
        ('schema = 1\nname = "x"\n[destination]\nboots = []\n', 4, "at least one way"),
        ('schema = 1\nname = "x"\n[bench]\nboots = ["legacy"]\nsecure_boot = true\n', 5, "does not start by UEFI"),
        ('schema = 1\nname = "x"\n[bench]\ndb = ["../db.esl"]\n', 4, "the name of a file beside this one"),
        ('schema = 1\nname = "x"\n[bench]\ndb = [".."]\n', 4, "cannot be read: Is a directory"),
        ('schema = 1\nname = "x"\n[bench]\ndb = ["gone.esl"]\n', 4, "cannot be read: No such file"),
        ('schema = 1\nname = "x"\n[bench]\ndb = ["esrt.txt"]\n', 4, "holds no EFI signature list"),
        ('schema = 1\nname = "x"\n[bench]\nesrt = "db.esl"\n', 4, "neither the binary table nor the text"),
        ("name = ", 1, "is not TOML"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(folder, text, line, words):
    at, why = said(folder, text)
    assert at == line
    assert words in why


def test_a_list_that_cannot_be_asked_whole_is_refused(folder):
    sha384 = "ff3e5307-9fd0-48c9-85f1-8ad56c701e01"
    (folder / "db.esl").write_bytes(keys(CERTIFICATE, ROOT.der) + keys(sha384, bytes(48)))
    assert "a type that is not read (SHA-384 of an image)" in said(folder, WHOLE)[1]
    (folder / "db.esl").write_bytes(keys(CERTIFICATE, b"\x30\x03abc"))
    assert "a certificate in it cannot be read" in said(folder, WHOLE)[1]
    (folder / "db.esl").write_bytes(keys(CERTIFICATE, ROOT.der)[:-1])
    assert "cut short" in said(folder, WHOLE)[1]


def test_a_file_over_the_bound(folder, monkeypatch):
    monkeypatch.setattr(load, "MOST_BYTES", 10)
    loaded = load_host(folder / "host.toml")
    assert all("larger than 10 bytes" in one.text for one in loaded.problems)


def test_a_file_that_is_not_there(tmp_path):
    (problem,) = load_host(tmp_path / "gone.toml").problems
    assert "cannot be read" in problem.text


def esrt(*entries: tuple[int, ...], count: int | None = None) -> bytes:
    """EFI_SYSTEM_RESOURCE_TABLE (UEFI Specification 23.4), one field an item."""
    head = struct.pack("<IIQ", len(entries) if count is None else count, 16, 1)
    return head + b"".join(uuid.UUID(CLASS).bytes_le + struct.pack("<6I", *one) for one in entries)


def test_the_binary_table(folder):
    (folder / "esrt.txt").write_bytes(esrt((1, 8, 5, 0, 9, 3), (1, 1, 1, 0, 1, 0)))
    host = load_host(folder / "host.toml").host
    assert host is not None
    first, second = host.destination.resources or ()
    assert (first.type, first.version, first.lowest, first.last_version, first.status) == (CLASS.upper(), 8, 5, 9, 3)
    assert second.place.endswith("offset 56")


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (esrt((1, 8, 5, 0, 9, 3), count=2), "cut short"),
        (esrt(count=100_000), "256 are read at most"),
        (ENTRY.replace("fw_version:8\n", "").encode(), "lacks"),
        (ENTRY.replace(":8", ":eight").encode(), "no number"),
        (ENTRY.replace(CLASS, "nobody").encode(), "names no GUID"),
        (b"nothing of the kind\n", "no line of an entry"),
        ("".join(f"entry{n}/fw_class:{CLASS}\n" for n in range(300)).encode(), "more than 256"),
    ],
)
def test_a_table_that_cannot_be_used(folder, data, why):
    (folder / "esrt.txt").write_bytes(data)
    assert why in said(folder, WHOLE)[1]
