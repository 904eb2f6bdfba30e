"""What Corvane published for the Heron (invented), and what else of it lies about on the bench."""

from __future__ import annotations

from sample_bundles import dos, eeprom, lists, pe, rom
from sample_bundles.firmware import firmware
from sample_bundles.item import Item
from sample_bundles.noise import noise

FAMILY = "corvane-heron"
VENDOR, RAID, PASS = 0xF234, 0x0A60, 0x0A61
_CLASS = {RAID: 0x010400, PASS: 0x010700}
_MARK = {RAID: "RD", PASS: "PT"}


def controller(version: str, device: int) -> bytes:
    """Controller firmware of `version` for the mode that shows `device`."""
    mark = f"HERON {_MARK[device]}"
    major, minor, patch = (int(part) for part in version.split("."))
    texts = (mark, f"HNFW {version}", "Corvane storage controller", "berth %u", "no drive at %u")
    return firmware(texts, major << 24 | minor << 16 | patch, 81_920, f"{mark} {version}")


def legacy_rom(version: str, device: int, *, last: bool = True) -> bytes:
    """The legacy x86 boot ROM of `version` for the mode that shows `device`."""
    major, minor = (int(part) for part in version.split("."))
    card = rom.Card(VENDOR, device, _CLASS[device], (), major << 8 | minor)
    return rom.legacy(card, "Corvane", "Heron start-up", f"HNLB {version}", noise(f"HNLB {version} {device}", 11_000),
                      last=last)


def uefi_rom(version: str, device: int) -> bytes:
    """The UEFI boot ROM of `version` for the mode that shows `device`."""
    driver = pe.program(pe.EFI_DRIVER, f"HNUB {version}", noise(f"HNUB {version} {device}", 7_000))
    return rom.efi(rom.Card(VENDOR, device, _CLASS[device], (), 0x0603), driver)


def dos_writer(version: str) -> bytes:
    """The flash utility for DOS, a plain MZ program that needs WHKEYS.COM beside it."""
    return dos.mz(f"WEIRHAND {version} (demo: writes nothing)", noise(f"weirhand {version}", 24_000))


def uefi_writer(version: str) -> bytes:
    """The flash utility for the UEFI shell."""
    told = f"WEIRHAND {version} (demo: writes nothing)"
    return pe.program(pe.EFI_APPLICATION, told, noise(f"weir {version}", 10_000))


FIRMWARE = Item("HNP7182.FW", controller("7.18.2", PASS), FAMILY, ("firmware",), good=True,
                what="controller firmware for pass-through mode")
LEGACY = Item("HNLB512.ROM", legacy_rom("5.12", PASS), FAMILY, ("legacy-boot-rom",), good=True,
              what="legacy boot ROM for pass-through mode")
UEFI = Item("HNUB603.ROM", uefi_rom("6.03", PASS), FAMILY, ("uefi-boot-rom",), good=True,
            what="UEFI boot ROM for pass-through mode")
EEPROM = Item("HNCFGP.BIN", eeprom.heron(PASS), FAMILY, ("eeprom-image",), good=True,
              what="configuration EEPROM image for pass-through mode")
DOS_WRITER = Item("WHAND.EXE", dos_writer("2.40"), FAMILY, ("writer",), good=True, what="flash utility for DOS")
KEYS = Item("WHKEYS.COM", dos.com("Key table loaded.", noise("keys", 700)), FAMILY, ("writer",), good=True,
            what="the companion that the flash utility for DOS needs")
UEFI_WRITER = Item("WHAND.EFI", uefi_writer("2.40"), FAMILY, ("writer",), good=True,
                   what="flash utility for the UEFI shell")
NOTES = Item("NOTES.TXT", b"HERON NOTES 7.18.2\r\n\r\n"
             b"Corvane Heron, autumn release of 22 October 2024 (invented; for the Saltmarsh College demo)\r\n"
             b"Lay the EEPROM image first, read it back, and only then scour the flash.\r\n"
             b"Older utilities than 2.31 do not know board issue B.\r\n",
             FAMILY, ("notes",), good=True, what="release notes, which go onto the medium too")
RAID_FIRMWARE = Item("HNR7182.FW", controller("7.18.2", RAID), FAMILY, ("firmware",), tempts=("other-mode",),
                     what="controller firmware for RAID mode")
RAID_LEGACY = Item("HNLR512.ROM", legacy_rom("5.12", RAID), FAMILY, ("legacy-boot-rom",), tempts=("other-mode",),
                   what="legacy boot ROM for RAID mode")


def release_autumn() -> Item:
    """The current release as downloaded."""
    items = (FIRMWARE, RAID_FIRMWARE, LEGACY, UEFI, EEPROM, NOTES, DOS_WRITER.named("tools/WHAND.EXE"),
             KEYS.named("tools/WHKEYS.COM"), UEFI_WRITER.named("tools/WHAND.EFI"))
    listed = Item("heron.sha256.txt", lists.openssl(items), what="a right checksum list, OpenSSL spelling")
    return Item("heron_autumn_2024.zip", members=(*items, listed), day=(2024, 10, 22), what="the current release")


def release_spring() -> Item:
    """The release before; its boot ROM holds legacy and UEFI images in one file."""
    joined = legacy_rom("5.08", PASS, last=False) + uefi_rom("5.90", PASS)
    items = (
        Item("HNP7100.FW", controller("7.10.0", PASS), FAMILY, ("firmware",), what="firmware of the old release"),
        Item("HNRB508.ROM", joined, FAMILY, ("legacy-boot-rom", "uefi-boot-rom"), what="boot ROM of the old release"),
        Item("WHAND.EXE", dos_writer("2.18"), FAMILY, ("writer",), what="flash utility of the old release"),
        KEYS,
    )
    return Item("old/heron_spring_2024.zip", members=items, day=(2024, 4, 9), what="the release before, without a list")


def about() -> tuple[Item, ...]:
    """What else of the Heron lies about: tempting, and wrong."""
    taken_back = Item("heron/HNP7160.FW", controller("7.16.0", PASS), FAMILY, ("firmware",),
                      tempts=("withdrawn", "contradicted"), what="firmware the maker took back, beside a wrong list")
    wrong = Item("HNP7160.FW", controller("7.16.0", RAID))
    return (
        release_autumn(),
        release_spring(),
        EEPROM.named("heron/HNCFGP.BIN"),
        Item("heron/HNCFGP.BIN.sha256", lists.bare(EEPROM), what="a right checksum, the digest alone"),
        taken_back,
        Item("heron/HERON.SHA", lists.coreutils((wrong,)), what="a wrong checksum list: the digest is another file's"),
        Item("heron/HNR7160.FW", controller("7.16.0", RAID), FAMILY, ("firmware",), tempts=("other-mode",),
             what="firmware for RAID mode, taken back too"),
        Item("heron/HNP540.FW", controller("5.40.0", PASS), FAMILY, ("firmware",), tempts=("below-lowest",),
             what="firmware below the lowest that the board takes"),
        Item("heron/tools/WHAND.EXE", dos_writer("1.90"), FAMILY, ("writer",), tempts=("tool-too-old",),
             what="flash utility too old for any release known"),
        KEYS.named("heron/tools/WHKEYS.COM"),
        Item("heron/eeprom/zero.bin", bytes(192), FAMILY, ("eeprom-image",), tempts=("blank",),
             what="a blank EEPROM image"),
        Item("heron/eeprom/heron-320.bin", eeprom.heron(PASS, size=320), FAMILY, ("eeprom-image",),
             tempts=("wrong-size",), what="a Heron image of the Bittern's size"),
        Item("heron/eeprom/from clip.bin", eeprom.swapped(EEPROM.data), FAMILY, ("eeprom-image",),
             tempts=("bytes-swapped",), what="the right image with each pair of bytes swapped"),
        Item("heron/eeprom/bad sum.bin", EEPROM.data[:0x80] + b"\x5c" + EEPROM.data[0x81:], FAMILY, ("eeprom-image",),
             tempts=("eeprom-sum",), what="the right image with one byte changed and its sum left alone"),
        RAID_LEGACY.named("heron/HNLB512.ROM"),
    )
