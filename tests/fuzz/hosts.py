"""What a person says of a machine: host files, saved tables of firmware, saved lists of keys."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

from catalogue.formats.limits import MAX_LIST_KEYS
from catalogue.hosts.esrt import MOST, resources_of
from catalogue.hosts.load import load_host, named_files
from catalogue.hosts.saved_keys import keys_of
from tests.formats.build_keys import CERTIFICATE, IMAGE_SHA256, keys
from tests.formats.build_signature import ROOT
from tests.fuzz.target import Target
from tests.hosts.test_load import WHOLE

_KEYS = keys(IMAGE_SHA256, bytes(range(32)), bytes(32)) + keys(CERTIFICATE, ROOT.der)
_CLASS = "f2340011-0001-4002-8003-000000000064"
_ESRT = (
    (1).to_bytes(4, "little") * 2 + (1).to_bytes(8, "little") + bytes(range(40)),
    "".join(
        f"entry0/{name}:{value}\n"
        for name, value in (
            ("fw_class", _CLASS),
            ("fw_version", 8),
            ("lowest_supported_fw_version", "0x5"),
            ("last_attempt_version", 9),
            ("last_attempt_status", 3),
        )
    ).encode(),
)


@cache
def _beside() -> tempfile.TemporaryDirectory[str]:
    """A folder of this process, with what the host file of the tests names."""
    folder = tempfile.TemporaryDirectory(prefix="kitproof-fuzz-")
    for name, data in (("db.esl", _KEYS), ("dbx.esl", _KEYS), ("more.esl", _KEYS), ("esrt.txt", _ESRT[1])):
        (Path(folder.name) / name).write_bytes(data)
    return folder


def _host(data: bytes) -> None:
    path = Path(_beside().name) / "host.toml"
    path.write_bytes(data)
    loaded = load_host(path)
    lines = data.count(b"\n") + data.count(b"\r") + 1
    assert (loaded.host is None) == bool(loaded.problems)
    for one in loaded.problems:
        assert one.text.strip()
        assert 1 <= one.line <= lines, one
    if loaded.host is not None:
        named_files(path)


def _esrt(data: bytes) -> None:
    found, why = resources_of(data, "esrt")
    assert len(found) <= MOST
    assert not (found and why)


def _keys(data: bytes) -> None:
    found, why = keys_of(data, "db.esl")
    assert len(found) <= MAX_LIST_KEYS
    assert not (found and why)
    assert all(one.name for one in found)


TARGETS = (
    Target("host file", _host, lambda: [WHOLE.encode()]),
    Target("saved ESRT", _esrt, lambda: _ESRT),
    Target("saved keys", _keys, lambda: [_KEYS]),
)
