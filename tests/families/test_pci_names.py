"""Names for IDs: from the system's list, from the package's, from none; against Debian's list read whole."""
# ruff: noqa: E501  (tables are read line by line)

from __future__ import annotations

import gzip
import importlib.util
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from catalogue.families import pci_names
from catalogue.families.pci_names import lists, name_list, names, read_list, source
from tests.reference import debian

LIST = """#
#\tVersion: 2031.02.03
#\tDate:    2031-02-03 03:15:02
#
f234  Corvane
# a comment
\t0c80  Heron [old]
\t\tf567 0001  Quay's board
\t0c81  Heron
f567  Brinewell
\t0c80  Plover
\t0c82  Plover two
ffff  Illegal Vendor ID
# classes
C 01  Mass storage controller
\t07  Serial Attached SCSI controller
"""


@pytest.fixture(autouse=True)
def fresh() -> Iterator[None]:
    name_list.cache_clear()
    yield
    name_list.cache_clear()


def use(monkeypatch: pytest.MonkeyPatch, *files: Path) -> None:
    monkeypatch.setattr(pci_names, "SYSTEM_LISTS", tuple(map(str, files)))


def test_names_of_vendors_and_devices(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "pci.ids").write_text(LIST)
    use(monkeypatch, tmp_path / "gone", tmp_path / "pci.ids")
    asked = [(0xF234, 0x0C80), (0xF234, 0x0C81), (0xF567, None), (0xF567, 0x0C81), (0xF234, 0x0C82), (0xFFFF, 0x07), (0x0C80, 1), (0xF234, 0xF567)]
    assert names(asked) == {
        "f234": "Corvane", "f234:0c80": "Heron [old]", "f234:0c81": "Heron", "f567": "Brinewell", "ffff": "Illegal Vendor ID",
    }
    assert source() == f"pci.ids 2031.02.03 ({tmp_path / 'pci.ids'})"


@pytest.mark.parametrize(
    "data",
    [LIST.encode(), LIST.replace("\n", "\r\n").encode(), LIST.rstrip("\n").encode(), gzip.compress(LIST.encode()),
     LIST.replace("#\tVersion: 2031.02.03\n", "").encode()],
)
def test_odd_files(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / ("pci.ids.gz" if data[:2] == b"\x1f\x8b" else "pci.ids")
    path.write_bytes(data)
    found = read_list(path)
    assert found is not None
    assert found.vendor(0xF234) == ("Corvane", found.data.index(b"Corvane") + 7)
    assert found.version in {"2031.02.03", ""}


def test_a_list_without_a_version(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "pci.ids").write_bytes(b"f234  Cor\xffv\x1bane\n\t0c80  Heron")
    use(monkeypatch, tmp_path / "pci.ids")
    assert names([(0xF234, 0x0C80)]) == {"f234": "Cor�v?ane", "f234:0c80": "Heron"}
    assert source() == f"pci.ids ({tmp_path / 'pci.ids'})"


def test_what_cannot_be_read_is_no_list(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert read_list(tmp_path / "gone") is None
    assert read_list(tmp_path) is None
    (tmp_path / "cut.gz").write_bytes(gzip.compress(LIST.encode())[:-12])
    assert read_list(tmp_path / "cut.gz") is None
    (tmp_path / "no.gz").write_bytes(b"f234  Corvane")
    assert read_list(tmp_path / "no.gz") is None
    monkeypatch.setattr(pci_names, "MAX_LIST_BYTES", 10)
    (tmp_path / "large").write_text(LIST)
    assert read_list(tmp_path / "large") is None


def test_without_any_list_ids_stand_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    use(monkeypatch)
    monkeypatch.setattr(pci_names, "PACKAGE", "no_such_package_anywhere")
    assert (names([(0xF234, 0x0C80)]), source()) == ({}, "")


def test_a_package_that_cannot_be_found_is_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    use(monkeypatch)

    def fails(name: str) -> None:
        raise ValueError(name)

    monkeypatch.setattr(importlib.util, "find_spec", fails)
    assert list(lists()) == []


def test_the_package_is_read_but_not_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the system's list, the one that PyPI's pypci-ng carries."""
    import sys

    use(monkeypatch)
    if importlib.util.find_spec("pypci") is None:
        pytest.skip("the package pypci-ng is not here")
    assert names([(0xFFFF, None)]) == {"ffff": "Illegal Vendor ID"}
    assert source().startswith("pci.ids 20")
    assert "pypci" not in sys.modules


def read_whole(path: Path) -> dict[str, str]:
    """A pci.ids read line by line from its own description of its syntax."""
    out: dict[str, str] = {}
    vendor = ""
    for line in path.read_text(encoding="utf-8", errors="replace").splitlines():
        if line.startswith("C "):
            break
        if not line or line.startswith(("#", "\t\t")):
            continue
        key, name = line.strip().split("  ", 1)
        if line.startswith("\t"):
            out[f"{vendor}:{key}"] = name
        else:
            vendor = key
            out[vendor] = name
    return out


@pytest.mark.outside
def test_debians_list_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every vendor and device of Debian's package pci.ids, and that our invented vendors are not in it (words.md)."""
    path = debian.files("pci.ids") / "usr/share/misc/pci.ids"
    use(monkeypatch, path)
    wanted = read_whole(path)
    assert len(wanted) > 15_000
    pairs = [(int(key[:4], 16), int(key[5:], 16) if ":" in key else None) for key in wanted]
    step = 7
    began = time.process_time()
    got = names(pairs[::step])
    assert time.process_time() - began < 20
    for key in list(wanted)[::step]:
        assert got[key] == wanted[key]
    assert names([(0xF234, 0x0C80), (0xF567, None)]) == {}
