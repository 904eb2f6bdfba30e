"""Names whose versions are not the piece's own: libraries and tools built into it, standards it keeps, licences.

A number behind one of these is no claim at all: a firmware does not become version 1.2.11 by holding zlib 1.2.11. The
names are common knowledge (no published list); those of standards are the standards' own.
"""

from __future__ import annotations

import re
from functools import cache

_LIBRARIES = (
    "zlib deflate inflate unzip bzip2 lzma xz lz4 lzo zstd zstandard brotli openssl boringssl wolfssl mbedtls gnutls "
    "cryptopp sqlite expat freetype harfbuzz curl pcre2? newlib picolibc glibc glibcxx cxxabi musl uclibc dietlibc "
    "busybox boost qt[3-6]? gtk\\+? tcl/?tk? lwip freertos threadx lib[a-z0-9][\\w+.-]*"
)
_TOOLS = (
    "gcc g\\+\\+ gnu(?:\\sc(?:11|17|89|99)?|\\sas|\\sld|\\smake)? binutils clang llvm rustc rust cargo cmake meson "
    "nasm yasm masm watcom borland msvc perl python cpython ruby java jdk jre node(?:\\.js)? golang go swig flex bison "
    "yacc autoconf automake libtool pandoc doxygen docutils"
)
_SYSTEMS = (
    "linux kernel debian ubuntu fedora centos rhel suse opensuse archlinux gnu/linux windows(?:\\snt)? winnt macos "
    "os\\sx darwin freebsd netbsd openbsd solaris ms-dos pc-dos dr-dos dos os/2"
)
_STANDARDS = (
    "http https tls ssl dtls ssh snmp ftp smtp imap rtsp xml html xhtml css svg pdf utf unicode ascii asn ipv4 ipv6 "
    "uefi efi acpi smbios dmi pci pcie pci-?x pci\\sexpress pc\\scard usb sata sas scsi spi nvme pxe vbe vesa apm pnp "
    "pldm mctp ipmi redfish tcg tpm spdm sbat(?:\\sversion)? c\\+\\+ posix iso iec ieee ansi ecma itu rfc opengl "
    "vulkan gost(?:\\sr)? picmg cxl mxm ppi sbi virtio bluetooth zigbee dfu uf2 elf dwarf coff pe32 multiboot2? "
    "bbs edd pmm el\\storito glsl opencl"
)
_LICENCES = (
    "gpl l?gpl agpl mpl apache licen[cs]e[sd]? "
    "(?:general|lesser|library|affero)\\spublic\\slicen[cs]e cddl epl artistic bsd"
)
_PLACES = (
    "section sections sect sec chapter chap clause clauses appendix annex table tables figure figures fig paragraph "
    "para page part step item line example note rule"
)
_BETWEEN = (
    r"(?:[\s_/:,.;(\"'=#-]|versions?|vers?|v|rel(?:ease)?|rev(?:ision)?|builds?|librar(?:y|ies)|compiler|headers?|"
    r"spec(?:ification)?s?|standards?|protocol|format|or|later|only|and|above|draft|level|code|the|gnu|for|of|abi|"
    r"base|core|api|mode|table)"
)


def _names(*lists: str) -> str:
    words = (word for one in lists for word in one.split())
    return "|".join(sorted(words, key=len, reverse=True))


@cache
def _others() -> re.Pattern[str]:
    """Compiled when it is first asked: it takes 40 ms, which every start would pay."""
    names = _names(_LIBRARIES, _TOOLS, _SYSTEMS, _STANDARDS, _LICENCES, _PLACES)
    return re.compile(rf"(?<![A-Za-z0-9])(?:{names})(?![A-Za-z]{{3}}){_BETWEEN}{{0,8}}\Z", re.I)


_LINES = re.compile(
    r"GCC: \(|\b(?:gcc|g\+\+|cc|ld|as)(?:-[0-9]+)?:? \(|clang version"  # a line of the tool chain
    r"|%[-+ #0-9.]*l{0,2}[a-z] v?\Z"  # ISO C, 7.23.6.1: whose version it is stands nowhere, it is filled in
    r"|\$(?:Id|Revision|Rev|Header|Date|Source|Name)\b"  # RCS keywords (rcs(1))
    r"|\w://\S*\Z"  # RFC 3986: a number in an address of the web
    r"|<\?xml|\bxmlns|licen[cs]e,? v|\boid\b|\bunder the terms\b",
    re.I,
)
_IDENTIFIERS = ("1.2.840", "1.3.6.1", "1.3.14.3", "1.3.132", "2.16.840", "2.5.29", "2.5.4", "0.9.2342")
"""Roots of object identifiers that are met most (ITU-T X.660, X.520; the OID repository)."""


def is_anothers(before: str) -> bool:
    """Whether what stands before a number, on its line, says that it numbers something else than the piece."""
    return _LINES.search(before) is not None or _others().search(before) is not None


def is_identifier(numbers: str) -> bool:
    """Whether a dotted number is an object identifier by its root; 2.5.4 alone may be a version."""
    return any(numbers.startswith(root + ".") or (numbers == root and root[:3] != "2.5") for root in _IDENTIFIERS)
