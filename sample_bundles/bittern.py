"""What Corvane published for the Bittern (invented), and what else of it lies about on the bench."""

from __future__ import annotations

from sample_bundles import dos, eeprom, lists, pe, rom
from sample_bundles.firmware import firmware
from sample_bundles.item import Item
from sample_bundles.noise import noise

FAMILY = "corvane-bittern"
VENDOR, RAID, PASS = 0xF234, 0x0C80, 0x0C81
_CLASS = {RAID: 0x010400, PASS: 0x010700}
_MARK = {RAID: "RD", PASS: "PT"}
_SISTER = {RAID: 0x0C90, PASS: 0x0C91}


def _packed(version: str) -> int:
    major, minor, patch = (int(part) for part in version.split("."))
    return major << 24 | minor << 16 | patch << 8


def controller(version: str, device: int) -> bytes:
    """Controller firmware of `version` for the mode that shows `device`."""
    mark = f"BITTERN {_MARK[device]}"
    texts = (mark, f"CVFW {version}", "Corvane storage controller", "link up", "link down", "port %u", "retry %u of %u")
    return firmware(texts, _packed(version), 114_688, f"{mark} {version}")


def legacy_rom(version: str, device: int) -> bytes:
    """The legacy x86 boot ROM of `version` for the mode that shows `device`."""
    major, minor, _ = (int(part) for part in version.split("."))
    card = rom.Card(VENDOR, device, _CLASS[device], (device, _SISTER[device]), major << 8 | minor)
    return rom.legacy(card, "Corvane", "Bittern start-up", f"CVLB {version}", noise(f"CVLB {version} {device}", 15_000))


def uefi_rom(version: str, device: int) -> bytes:
    """The UEFI boot ROM of `version` for the mode that shows `device`; its version is UTF-16LE text in the driver."""
    driver = pe.program(pe.EFI_DRIVER, f"CVUB {version}", noise(f"CVUB {version} {device}", 9_000))
    return rom.efi(rom.Card(VENDOR, device, _CLASS[device], (device, _SISTER[device]), 0x0E02), driver)


def dos_writer(version: str) -> bytes:
    """The flash utility for DOS: an MZ program with a DOS-extended part, which needs QHXTEND.BIN beside it."""
    return dos.mz_le(f"QUAYHAND {version} (demo: writes nothing)", noise(f"quayhand {version}", 20_000))


def uefi_writer(version: str) -> bytes:
    """The flash utility for the UEFI shell."""
    told = f"QUAYHAND {version} (demo: writes nothing)"
    return pe.program(pe.EFI_APPLICATION, told, noise(f"quay {version}", 12_000))


def windows_writer(version: str) -> bytes:
    """The flash utility for Windows, which no route of ours uses."""
    return pe.program(pe.WINDOWS_CONSOLE, f"QUAYHAND {version} for Windows", noise(f"setup {version}", 3_000))


EXTENDER = Item("QHXTEND.BIN", b"\x13QX\xd7" + noise("extender", 6_000), FAMILY, ("writer",), good=True,
                what="the companion that the flash utility for DOS needs")
FIRMWARE = Item("BTP12040.FW", controller("12.04.0", PASS), FAMILY, ("firmware",), good=True,
                what="controller firmware for pass-through mode")
LEGACY = Item("BTLB841.ROM", legacy_rom("8.41.0", PASS), FAMILY, ("legacy-boot-rom",), good=True,
              what="legacy boot ROM for pass-through mode")
UEFI = Item("BTUB142.ROM", uefi_rom("14.02.0", PASS), FAMILY, ("uefi-boot-rom",), tempts=("unvouched",),
            what="UEFI boot ROM for pass-through mode, for which the maker gives no digest")
EEPROM = Item("BTCFGP.BIN", eeprom.bittern(PASS), FAMILY, ("eeprom-image",), good=True,
              what="configuration EEPROM image for pass-through mode")
DOS_WRITER = Item("QHAND.EXE", dos_writer("3.22"), FAMILY, ("writer",), good=True, what="flash utility for DOS")
UEFI_WRITER = Item("QHAND.EFI", uefi_writer("3.22"), FAMILY, ("writer",), good=True,
                   what="flash utility for the UEFI shell")

RAID_FIRMWARE = Item("BTR12040.FW", controller("12.04.0", RAID), FAMILY, ("firmware",), tempts=("other-mode",),
                     what="controller firmware for RAID mode")
RAID_LEGACY = Item("BTLR841.ROM", legacy_rom("8.41.0", RAID), FAMILY, ("legacy-boot-rom",), tempts=("other-mode",),
                   what="legacy boot ROM for RAID mode: the right name, date and version, the wrong mode")
RAID_EEPROM = Item("BTCFGR.BIN", eeprom.bittern(RAID), FAMILY, ("eeprom-image",), tempts=("other-mode",),
                   what="configuration EEPROM image for RAID mode")

_NOTES = """\
Corvane Bittern, release twelve of 10 February 2026 (invented; for the Saltmarsh College demo)\r
\r
pass\\    pieces for pass-through mode\r
raid\\    pieces for RAID mode; never mix the two\r
tools\\   the flash utility for DOS and for the UEFI shell\r
\r
Controller firmware 12.04.0 mends the link that 12.02.0 dropped after a warm restart.\r
Keep QHXTEND.BIN beside the utility for DOS.\r
Follow the card's own instructions; save the old contents first.\r
"""


def _within(folder: str, *items: Item) -> tuple[Item, ...]:
    return tuple(item.named(f"{folder}/{item.name}") for item in items)


def _with_list(name: str, spell: str, items: tuple[Item, ...]) -> tuple[Item, ...]:
    data = {"coreutils": lists.coreutils, "bsd": lists.bsd}[spell](items)
    return (*items, Item(name, data, what=f"a right checksum list, {spell} spelling"))


def release_twelve() -> Item:
    """The current release as downloaded; the firmware lies in a zip of its own inside."""
    inner = Item("firmware-12.04.0.zip", members=_with_list("SHA256SUMS", "coreutils", (FIRMWARE, RAID_FIRMWARE)),
                 what="an archive inside the archive")
    items = (
        inner,
        *_within("pass", LEGACY, UEFI, EEPROM),
        *_within("raid", RAID_LEGACY, RAID_EEPROM),
        *_within("tools/dos", DOS_WRITER, EXTENDER),
        *_within("tools/uefi", UEFI_WRITER),
        Item("README.TXT", _NOTES.encode("ascii"), what="release notes"),
    )
    return Item("bittern-12.04.0.zip", members=_with_list("SHA256SUMS", "coreutils", items),
                what="the current release as downloaded")


def release_eleven() -> Item:
    """The release before."""
    items = (
        Item("pass/BTP11020.FW", controller("11.02.0", PASS), FAMILY, ("firmware",), what="the firmware before"),
        Item("raid/BTR11020.FW", controller("11.02.0", RAID), FAMILY, ("firmware",), tempts=("other-mode",),
             what="firmware of the old release, RAID mode"),
        Item("pass/BTLB830.ROM", legacy_rom("8.30.0", PASS), FAMILY, ("legacy-boot-rom",),
             what="legacy boot ROM of the old release"),
        Item("tools/dos/QHAND.EXE", dos_writer("3.05"), FAMILY, ("writer",),
             what="flash utility of the old release"),
        EXTENDER.named("tools/dos/QHXTEND.BIN"),
    )
    listed = Item("MD5SUMS", lists.coreutils(items, "md5", "*"), what="a right checksum list, MD5")
    return Item("old/bittern-11.02.0.zip", members=(*items, listed), day=(2025, 6, 17), what="the release before")


def withdrawn() -> Item:
    """A release the maker took back."""
    items = (
        Item("BTP12020.FW", controller("12.02.0", PASS), FAMILY, ("firmware",), tempts=("withdrawn",),
             what="firmware the maker took back"),
        Item("BTLB840.ROM", legacy_rom("8.40.0", PASS), FAMILY, ("legacy-boot-rom",), tempts=("unvouched",),
             what="legacy boot ROM that came with it, in no release"),
    )
    return Item("bittern-12.02.0.zip", members=_with_list("CHECKSUM", "bsd", items), day=(2025, 11, 20),
                what="a release the maker took back")


def flipped(data: bytes, at: int) -> bytes:
    """The same bytes with one bit turned at offset `at`."""
    return data[:at] + bytes([data[at] ^ 0x10]) + data[at + 1 :]


def about() -> tuple[Item, ...]:
    """What else of the Bittern lies about: tempting, and wrong."""
    twelve = release_twelve()
    mirrored = Item("mirror/BTLB841.ROM", flipped(LEGACY.data, 9_000), FAMILY, ("legacy-boot-rom",),
                    tempts=("contradicted", "rom-damaged"), what="the right name, one bit turned on the way")
    page = "<!DOCTYPE html>\n<html><head><title>Sign in</title></head>\n<body>Sign in to download BITTERN PT 12.04.0"
    return (
        twelve,
        twelve.named("bittern-12.04.0 (1).zip"),
        Item("bittern-12.04.0 (2).zip", members=twelve.members, cut=len(twelve.data) * 3 // 5,
             what="a download that broke off"),
        withdrawn(),
        release_eleven(),
        RAID_LEGACY.named("Bittern boot ROM/BTLB841.ROM"),
        Item("Bittern boot ROM/BTP12040.bin", f"{page}</body></html>\n".encode(), FAMILY, ("firmware",),
             tempts=("wrong-kind",), what="a web page saved in place of the download"),
        Item("BTP12040 half.FW", FIRMWARE.data[:61_440], FAMILY, ("firmware",), tempts=("wrong-size",),
             what="firmware cut short"),
        mirrored,
        Item("mirror/SHA256SUMS", lists.coreutils((LEGACY,)),
             what="the maker's list: right, unlike the file beside it"),
        Item("eeprom/blank.bin", b"\xff" * 320, FAMILY, ("eeprom-image",), tempts=("blank",),
             what="a blank EEPROM image: it would make the card vanish"),
        Item("eeprom/bittern-192.bin", eeprom.bittern(PASS, size=192), FAMILY, ("eeprom-image",),
             tempts=("wrong-size",), what="a Bittern image of the Heron's size"),
        Item("bench/card 0017/NEWCFG.BIN", eeprom.bittern(PASS, 0x5F23_4010_0000_1A40, "CB0023117"), FAMILY,
             ("eeprom-image",), tempts=("foreign-identity",),
             what="an EEPROM image saved from a card, with its identity"),
        Item("bench/card 0017/OLDCFG.BIN", eeprom.bittern(RAID, 0x5F23_4010_0000_1A40, "CB0023117"), FAMILY,
             ("eeprom-image",), tempts=("other-mode",), what="the same card before, in RAID mode"),
        Item("bench/card 0017/CARD.TXT", _CARD.encode("ascii"), what="that card's listing"),
        Item("forum/BTP13000.FW", controller("13.00.0", PASS), FAMILY, ("firmware",), tempts=("unvouched",),
             what="firmware beyond every release known"),
        Item("QHAND 3.15/QHAND.EXE", dos_writer("3.15"), FAMILY, ("writer",), tempts=("companion-missing",),
             what="flash utility without its companion"),
        Item("QHAND 3.15/qhand-setup.exe", windows_writer("3.15"), FAMILY, ("writer",),
             tempts=("other-bench",), what="flash utility for Windows"),
    )


_CARD = """\
Quayhand 3.22\r
\r
Berth ............. 1\r
  Shows as ........ F234:0C80\r
  Controller ...... 11.02.0\r
  Board issue ..... C\r
  Quay address .... 5F23401000001A40\r
  Hull number ..... 00CB0023117\r
"""
