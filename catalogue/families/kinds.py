"""The kinds of piece (command-line.md) and which of them run on a bench."""

from __future__ import annotations

KINDS = (
    "option-rom",
    "option-rom/legacy-x86",
    "option-rom/efi",
    "option-rom/open-firmware",
    "option-rom/isa",
    "efi-driver",
    "efi-application",
    "dos-program",
    "windows-program",
    "linux-program",
    "capsule",
    "pldm-package",
    "firmware-volume",
    "vpd",
    "device-tree",
    "dfu-file",
    "uf2",
    "fcode-program",
    "intel-hex",
    "s-record",
    "eeprom-image",
    "checksum-list",
    "text",
    "opaque",
)
ARCHIVE = "archive/"
"""What the kinds of archives begin with; a role's piece is never one (judging.md)."""

BENCHES = ("dos", "uefi", "linux", "clip")

RUNS_ON = {
    "dos": ("dos-program",),
    "uefi": ("efi-application",),
    "linux": ("linux-program",),
    "clip": ("dos-program", "efi-application", "linux-program", "windows-program"),
}
"""The kinds that can be a command line's program; an external programmer is driven from any machine."""
