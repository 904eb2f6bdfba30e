"""What Brinewell published for the Plover (invented), and what else of it lies about on the bench."""

from __future__ import annotations

from sample_bundles import dos, elf, lists, pe, rom
from sample_bundles.firmware import firmware
from sample_bundles.item import Item
from sample_bundles.noise import noise

FAMILY = "brinewell-plover"
VENDOR, PLAIN, NETBOOT = 0xF567, 0x2B10, 0x2B11
_MARK = {PLAIN: "QUIET", NETBOOT: "NETSTART"}


def controller(version: str, device: int) -> bytes:
    """Controller firmware of `version` for the mode that shows `device`."""
    mark = f"PLOVER {_MARK[device]}"
    major, minor, patch = (int(part) for part in version.split("."))
    texts = (mark, f"BWFW {version}", "Brinewell network controller", "lane %u", "nest %u")
    return firmware(texts, major << 16 | minor << 8 | patch, 65_536, f"{mark} {version}")


def joined_rom(version: str, device: int) -> bytes:
    """The boot ROM: a legacy image with PXE's UNDI structure, then an EFI image, in one file.

    Only the legacy image has a device list.
    """
    revision = 0x0108
    first = rom.legacy(rom.Card(VENDOR, device, 0x020000, (device, device + 0x10), revision), "Brinewell",
                       "Plover network start", f"BWNB {version}", noise(f"BWNB {version} {device}", 13_000), last=False)
    driver = pe.program(pe.EFI_DRIVER, f"Plover network start {version}", noise(f"bwn {version} {device}", 8_000))
    return first + rom.efi(rom.Card(VENDOR, device, 0x020000, (), revision), driver)


def linux_writer(version: str) -> bytes:
    """The flash utility for Linux."""
    return elf.program(f"SHINGLE {version} (demo: writes nothing)", noise(f"shingle {version}", 18_000))


def uefi_writer(version: str) -> bytes:
    """The flash utility for the UEFI shell."""
    told = f"SHINGLE {version} (demo: writes nothing)"
    return pe.program(pe.EFI_APPLICATION, told, noise(f"shing {version}", 11_000))


FIRMWARE = Item("PLVN231.BIN", controller("2.3.1", NETBOOT), FAMILY, ("firmware",), good=True,
                what="controller firmware for network start")
ROM = Item("PLVNB180.ROM", joined_rom("1.8.0", NETBOOT), FAMILY, ("legacy-boot-rom", "uefi-boot-rom"), good=True,
           what="one boot ROM file for both roles")
LINUX_WRITER = Item("shingle", linux_writer("1.12.0"), FAMILY, ("writer",), good=True, what="flash utility for Linux")
UEFI_WRITER = Item("SHGL.EFI", uefi_writer("1.12.0"), FAMILY, ("writer",), good=True,
                   what="flash utility for the UEFI shell")
PLAIN_FIRMWARE = Item("PLVQ231.BIN", controller("2.3.1", PLAIN), FAMILY, ("firmware",), tempts=("other-mode",),
                      what="controller firmware without network start")


def release_three() -> Item:
    """The current release as downloaded, with a list as a Windows tool writes it and notes under a German name."""
    items = (FIRMWARE.named("netstart/PLVN231.BIN"), ROM.named("netstart/PLVNB180.ROM"),
             PLAIN_FIRMWARE.named("quiet/PLVQ231.BIN"), LINUX_WRITER.named("linux/shingle"),
             UEFI_WRITER.named("efi/SHGL.EFI"))
    text = "Plover 2.3.1, erfunden für die Vorführung am Saltmarsh College.\n"
    notes = Item("Hinweise für Plover.txt", text.encode(), what="release notes under a name that is not ASCII")
    listed = Item("checksums.txt", lists.shouted(items), what="a right checksum list: UTF-16, backslashes, capitals")
    return Item("plover-2.3.1.zip", members=(*items, notes, listed), day=(2026, 1, 27), what="the current release")


def release_two() -> Item:
    """The release before, packed by an old program: names in code page 437."""
    items = (
        Item("PLVN220.BIN", controller("2.2.0", NETBOOT), FAMILY, ("firmware",), what="firmware of the old release"),
        Item("PLVNB170.ROM", joined_rom("1.7.0", NETBOOT), FAMILY, ("legacy-boot-rom", "uefi-boot-rom"),
             what="boot ROM of the old release"),
        Item("Übersicht.txt", b"Plover 2.2.0\r\n", utf8=False, what="notes, name in code page 437"),
    )
    return Item("old/plover-2.2.0.zip", members=items, day=(2025, 8, 5), what="the release before")


def about() -> tuple[Item, ...]:
    """What else of the Plover lies about: tempting, and wrong."""
    loose = (Item("PLVN230.BIN", controller("2.3.0", NETBOOT), FAMILY, ("firmware",), tempts=("withdrawn",),
                  what="firmware the maker took back"),
             Item("PLVNB180.ROM", joined_rom("1.8.0", PLAIN), FAMILY, ("legacy-boot-rom", "uefi-boot-rom"),
                  tempts=("other-mode",), what="boot ROM that names the card as it is before"))
    beside = tuple(item.named(f"Plover Überbleibsel/{item.name}") for item in loose)
    return (
        release_three(),
        release_two(),
        *beside,
        Item("Plover Überbleibsel/checksum.txt", lists.bsd(loose, "sha1"), what="a right checksum list, BSD and SHA-1"),
        Item("Plover Überbleibsel/SHGL.EXE", dos.mz("SHINGLE 1.12.0 for DOS", noise("dos shingle", 5000)), FAMILY,
             ("writer",), tempts=("other-bench",), what="flash utility for another bench"),
        Item("Plover Überbleibsel/shingle-0.9", linux_writer("0.9.4"), FAMILY, ("writer",), tempts=("tool-too-old",),
             what="flash utility too old for this firmware"),
    )
