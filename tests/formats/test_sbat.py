"""SBAT entries, by hand as SBAT.md gives them (the example there) and in Debian's own signed EFI programs."""

from __future__ import annotations

import pefile
import pytest

from catalogue import formats
from catalogue.formats import sbat
from catalogue.formats.view import BytesView
from tests.reference import debian

EXAMPLE = (
    b"sbat,1,SBAT Version,sbat,1,https://github.com/rhboot/shim/blob/main/SBAT.md\n"
    b"grub,1,Free Software Foundation,grub,2.04,https://www.gnu.org/software/grub/\n"
    b"grub.fedora,1,Red Hat Enterprise Linux,grub2,2.04-31.el8,mailto:secalert@redhat.com\n"
)
"""SBAT.md, "Example: a vendor forks a global project"."""


def test_lines_and_versions():
    data = b"\x81" * 7 + EXAMPLE + b"\0\0"
    found = sbat.read(BytesView(data), 7, len(EXAMPLE) + 2)
    assert [(one.value, one.source) for one in found.versions] == [
        ("2.04", "SBAT entry grub, vendor version"),
        ("2.04-31.el8", "SBAT entry grub.fedora, vendor version"),
    ]
    for claim in found.versions:
        assert data[claim.offset : claim.offset + len(claim.value)].decode() == claim.value
    assert [one.name for one in found.fields] == ["sbat_1", "sbat_2", "sbat_3"]
    for one in found.fields:
        assert data[one.offset : one.offset + one.length].decode() == one.value


@pytest.mark.parametrize("data", [b"", b"\0", b"grub", b"grub,x,a,b,2.04,u", b",1,a,b,2.04", b"\xff,\xff,\n" * 50])
def test_what_is_no_entry(data: bytes):
    assert sbat.read(BytesView(data), 0, len(data)) == sbat.Sbat()


def test_bounds():
    found = sbat.read(BytesView(b"a,1,v,p,1.0,u\n" * 5_000), 0, 70_000)
    assert len(found.fields) == sbat.MAX_LINES


@pytest.mark.outside
@pytest.mark.parametrize(
    ("package", "pattern", "component"),
    [("shim-signed", "usr/lib/shim/shimx64.efi.signed", "shim"), ("systemd-boot-efi", "**/*.efi", "systemd")],
)
def test_debian_s_programs(package: str, pattern: str, component: str):
    """pefile (PyPI) says where the section lies; it begins with the form's own line."""
    (path, *_) = sorted(debian.files(package).glob(pattern))
    data = path.read_bytes()
    reading = formats.read(BytesView(data))
    sources = [one.source for one in reading.versions]
    assert f"SBAT entry {component}, vendor version" in sources
    field = next(one for one in reading.fields if one.name == "sbat_1")
    sections = pefile.PE(data=data, fast_load=True).sections
    assert field.offset == next(one.PointerToRawData for one in sections if one.Name.rstrip(b"\0") == b".sbat")
    assert str(field.value).startswith("sbat,1,")
