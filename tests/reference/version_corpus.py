"""What real files say of their versions: for each what must be found and where it was read, and what must not.

Sources: Debian packages and the PyPI launchers that are installed here. Each row is written from what the package says
of itself (its own version field, `strings` of binutils on the file, upstream's statement), not from our output. How
libraries count: their versions are no claims at all (`catalogue.formats.other_names`), so they stand among the traps;
a number that nothing names is a claim of the lowest trust and is never put before a named one.

In a value {full} is the Debian version of the package without its epoch, {upstream} that without the revision.
"""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from pathlib import Path

from tests.reference import debian


@dataclass(frozen=True)
class Row:
    """Files of a package: `must` are values and the source (a pattern) each was read from, `not_` values that are none.

    `dates` must be found as dates. `of` is the package whose version counts, where it is another. `none`: the file
    states no version, so there is no claim at all.
    """

    package: str
    files: str
    must: tuple[tuple[str, str], ...]
    why: str
    not_: tuple[str, ...] = ()
    dates: tuple[str, ...] = ()
    of: str = ""
    none: bool = False


ROWS = (
    Row("seabios", "usr/share/seabios/bios*.bin", (("{upstream}-debian-{full}", "dotted number"),),
        "the build's own name, set by debian/rules; 06/23/99 is the PC's fixed stamp, no version",
        ("06.23.99", "2.8", "1999", "2011"), ("1999-06-23",)),
    Row("seabios", "usr/share/seabios/vgabios-*.bin", (("{upstream}-debian-{full}", "dotted number"),),
        "the same name in every video ROM"),
    Row("ipxe-qemu", "usr/lib/ipxe/qemu/efi-*.rom", (("{full}", "dotted number|iPXE"),),
        "the EFI driver in the ROM says so; PXE's 2.1 and the UNDI's are the standard's", ("2.1", "2.1.0", "1.2.11")),
    Row("ipxe-qemu", "usr/lib/ipxe/qemu/pxe-*.rom", (), "packed: the text is not in its bytes", none=True),
    Row("ipxe", "usr/lib/ipxe/snponly.efi", (("{full}", "dotted number|iPXE"),), "as in the ROM"),
    Row("shim-unsigned", "usr/lib/shim/*.efi", (("{upstream}", r"SBAT entry shim\.debian"),),
        "SBAT.md; OpenSSL, which is linked in, and the GOST standards are others'",
        ("1.0.2k", "1.1.1k", "34.11-94", "12.2.0")),
    Row("shim-signed", "usr/lib/shim/shimx64.efi.signed", (("{upstream}", r"SBAT entry shim\.debian"),),
        "the same program, signed; certificates' numbers are no versions", ("2.5.4.3", "1.3.6.1.4"), (),
        "shim-unsigned"),
    Row("shim-helpers-amd64-signed", "usr/lib/shim/*.signed", (("{upstream}", r"SBAT entry shim\.debian"),),
        "the same project", ("12.2.0",), (), "shim-unsigned"),
    Row("grub-efi-amd64-signed", "usr/lib/grub/x86_64-efi-signed/*.signed",
        (("{upstream}", "SBAT entry grub, vendor version"), ("{full}", r"SBAT entry grub\.debian")),
        "SBAT.md; licences (GPL 3) and Unicode's version are others'", ("3.0", "12.2.0"), (), "grub-efi-amd64-bin"),
    Row("systemd-boot-efi", "usr/lib/systemd/boot/efi/*.efi*", (("{full}", r"SBAT entry systemd\.debian"),),
        "systemd-boot(7); its LoaderInfo says the same", ("12.2.0",)),
    Row("memtest86+", "boot/memtest86+*", (("{upstream}", "Memtest86"),),
        "the name on its first screen; its SBAT lines lack a column, so they claim nothing", ("2.0", "12.2.0")),
    Row("u-boot-qemu", "usr/lib/u-boot/*/u-boot.bin", (("{full}", 'dotted number behind "U-Boot"'),),
        "U-Boot's version string; the compiler's and binutils' versions stand beside it", ("12.2.0", "2.40", "2.0")),
    Row("u-boot-qemu", "usr/lib/u-boot/*/uboot.elf", (("{full}", 'dotted number behind "U-Boot"'),),
        "the same firmware as ELF; .comment holds the compiler's version", ("12.2.0", "2.40")),
    Row("isolinux", "usr/lib/ISOLINUX/isolinux*.bin", (("6.04", 'behind "ISOLINUX"'),), "its banner"),
    Row("pxelinux", "usr/lib/PXELINUX/pxelinux.0", (("6.04", 'behind "PXELINUX"'),), "its banner; PXE 2.1 is not it",
        ("2.1",)),
    Row("firmware-linux-free", "lib/firmware/carl9170-1.fw", (("1.9.6", "dotted number"),),
        "upstream's release of this file (README of the package)", ("1.0",)),
    Row("refind", "usr/share/refind/refind/**/*_x64.efi", (("{upstream}", "dotted number"),), "its own banner",
        ("2.0", "3.0", "12.2.0"), of="refind"),
    Row("pciutils", "usr/bin/*pci", (("{upstream}", "text after .*version"),),
        "`lspci --version`; symbols of the C library are others'", ("2.2.5", "2.34", "12.2.0")),
    Row("kexec-tools", "sbin/kexec", (("2.0.25", "kexec-tools"),), "`kexec --version`", ("2.2.5", "1.2.13", "2.6.0")),
    Row("mtools", "usr/bin/mtools", (("4.0.32", "dotted number"),), "`mtools --version`", ("2.2.5", "2.34")),
    Row("ethtool", "sbin/ethtool", (("6.1", "text after .*ethtool version"),), "`ethtool --version`",
        ("2.2.5", "2.34", "2.3.4")),
    Row("smartmontools", "usr/sbin/smartctl", (("7.3", "text after"),), "`smartctl --version`", ("2.2.5", "3.4.29")),
    Row("gputils", "usr/bin/gpasm", (("1.4.0", "gpasm"),), "`gpasm --version`", ("2.14", "2.2.5", "2.3"),
        ("2021-01-01",)),
    Row("qemu-system-data", "usr/share/qemu/slof.bin", (), "its release is a day, and so no version",
        ("20220719", "1.0"), ("2022-07-19",)),
    Row("qemu-system-data", "usr/share/qemu/sgabios.bin", (), "names its build's day only", ("16.29", "2022"),
        none=True),
    Row("qemu-system-data", "usr/share/qemu/*.dtb", (), "trees: names of interfaces, no versions", none=True),
    Row("vgabios", "usr/share/vgabios/*.bin", (), "a day, copyright years, keywords of version control",
        ("288", "292", "2002", "2021", "2.1"), none=True),
    Row("palo", "usr/share/palo/iplboot", (), "its version stands in the text of a message", ("2002",),
        ("2022-08-09",)),
    Row("sigrok-firmware-fx2lafw", "usr/share/sigrok-firmware/*.fw", (), "bare machine code", none=True),
    Row("syslinux-common", "usr/lib/syslinux/mbr/*.bin", (), "boot sectors: no version", none=True),
)  # fmt: skip


def versions_of(package: str) -> dict[str, str]:
    """{full} and {upstream} of the package, by its own control file."""
    (archive,) = debian.files(package).glob("*.deb")
    field = subprocess.run(["dpkg-deb", "-f", str(archive), "Version"], capture_output=True, text=True, check=True)
    full = re.sub(r"\A[0-9]+:", "", field.stdout.strip())
    full = re.sub(r"\+b[0-9]+\Z", "", full)
    return {"full": full, "upstream": full.rpartition("-")[0] or full}


def files_of(row: Row) -> list[Path]:
    """The row's files, without links. Skips the test where the package cannot be had."""
    found = sorted(debian.files(row.package).glob(row.files))
    return [path for path in found if path.is_file() and not path.is_symlink()]
