"""Option ROMs built from the standards for tests, one field a line; the reader has no part in it.

PCI Firmware Specification 3.x, 5.1; UEFI Specification 14.4.2; Plug and Play BIOS 1.0A; PXE 2.1; IEEE 1275.
IDs are those of the demo's invented makers.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field

from tests.formats.build_uefi_stream import pack

HERON = (0xF234, 0x0064)
BLOCK = 512


@dataclass
class Made:
    """What one image was built with; `pcir_at` None makes an ISA-style image."""

    vendor: int = HERON[0]
    device: int = HERON[1]
    devices: tuple[int, ...] = ()
    class_code: int = 0x010700
    revision: int = 3
    code_revision: int = 0x0102
    code_type: int = 0
    last: bool = True
    pcir_at: int | None = 0x1C
    blocks: int = 2
    initial_blocks: int | None = None  # legacy and EFI: what 02h says; None: the same as `blocks`
    structure_length: int | None = None
    pnp: tuple[bytes, ...] = ()  # product names, one header each
    undi: bool = False
    machine: int = 0x8664
    subsystem: int = 11
    compression: int = 0
    efi_offset: int = 0x80
    driver: bytes | None = None
    fcode: bytes = b"\xb7\x00"  # two FCode numbers of no meaning
    fill: bytes = b"\x90"
    extra: dict[int, bytes] = field(default_factory=dict)  # bytes laid over the finished image, before its sum
    fix_sum: bool = True

    @property
    def initial(self) -> int:
        return self.blocks if self.initial_blocks is None else self.initial_blocks


def pcir(made: Made) -> bytes:
    """The PCI Data Structure; its device list, if any, lies right behind it."""
    length = made.structure_length or (0x1C if made.revision == 3 else 0x18)
    listed = made.revision == 3 and bool(made.devices)
    body = (
        b"PCIR"
        + struct.pack("<HH", made.vendor, made.device)
        + struct.pack("<H", length if listed else 0)  # 08h device list, from the start of this structure
        + struct.pack("<H", length)  # 0Ah
        + bytes([made.revision])  # 0Ch
        + made.class_code.to_bytes(3, "little")  # 0Dh programming interface first
        + struct.pack("<H", made.blocks)  # 10h
        + struct.pack("<H", made.code_revision)  # 12h
        + bytes([made.code_type, 0x80 if made.last else 0])  # 14h, 15h
        + struct.pack("<HHH", made.blocks, 0, 0)  # 16h, 18h, 1Ah: where the length says so
    )[:length]
    if listed:
        body += struct.pack(f"<{len(made.devices) + 1}H", *made.devices, 0)
    return body


def pnp_header(next_at: int, maker_at: int, product_at: int) -> bytes:
    """One `$PnP` header with its sum."""
    body = bytearray(
        b"$PnP"
        + bytes([1, 2])  # 04h revision, 05h length in 16-byte units
        + struct.pack("<H", next_at)  # 06h
        + bytes([0, 0])  # 08h reserved, 09h checksum
        + b"\x41\xd0\x00\x00"  # 0Ah device ID
        + struct.pack("<HH", maker_at, product_at)  # 0Eh, 10h
        + bytes([1, 4, 0])  # 12h device type: storage
        + bytes([0x14])  # 15h indicators
        + struct.pack("<HHH", 0x0123, 0, 0)  # 16h, 18h, 1Ah vectors
        + struct.pack("<HH", 0, 0)  # 1Ch reserved, 1Eh static resources
    )
    body[9] = -sum(body) & 0xFF
    return bytes(body)


def undi_structure() -> bytes:
    """The UNDI ROM ID structure with its sum."""
    body = bytearray(
        b"UNDI"
        + bytes([0x16, 0, 0])  # 04h length, 05h checksum, 06h structure revision
        + bytes([0, 1, 2])  # 07h UNDI 2.1.0
        + struct.pack("<HHHH", 0x0200, 0x0800, 0x1000, 0x0400)  # 0Ah loader, stack, data, code
        + b"PCIR"  # 12h bus type
    )
    body[5] = -sum(body) & 0xFF
    return bytes(body)


def fcode_program(body: bytes, start: int = 0xF1) -> bytes:
    """An FCode program: start byte, format 8, big-endian sum and length."""
    return bytes([start, 8]) + struct.pack(">HI", sum(body) & 0xFFFF, 8 + len(body)) + body


def driver(machine: int = 0x8664, subsystem: int = 11, body: bytes = b"\xc3") -> bytes:
    """A small PE32+ image with one section (Microsoft PE/COFF specification)."""
    mz = bytearray(0x40)
    mz[:2] = b"MZ"
    mz[0x3C] = 0x40
    coff = b"PE\0\0" + struct.pack("<HHIIIHH", machine, 1, 0, 0, 0, 0xF0, 0x2022)
    optional = bytearray(0xF0)
    struct.pack_into("<H", optional, 0, 0x20B)  # magic
    struct.pack_into("<I", optional, 16, 0x1000)  # entry point
    struct.pack_into("<II", optional, 32, 0x1000, 0x200)  # section and file alignment
    struct.pack_into("<II", optional, 56, 0x2000, 0x200)  # image size, headers size
    struct.pack_into("<H", optional, 68, subsystem)
    struct.pack_into("<I", optional, 108, 16)  # data directories
    section = b".text\0\0\0" + struct.pack("<IIIIIIHHI", len(body), 0x1000, 0x200, 0x200, 0, 0, 0, 0, 0x60000020)
    return (bytes(mz) + coff + bytes(optional) + section).ljust(0x200, b"\0") + body.ljust(0x200, b"\0")


def te(machine: int = 0x8664, subsystem: int = 11, body: bytes = b"\xc3") -> bytes:
    """A small TE image with one section (PI Specification, volume 1, 15.4); 1C8h bytes of headers are stripped."""
    section = b".text\0\0\0" + struct.pack("<IIIIIIHHI", len(body), 0x1000, 0x200, 0x200, 0, 0, 0, 0, 0x60000020)
    head = b"VZ" + struct.pack("<HBBHIIQ", machine, 1, subsystem, 0x1C8, 0x1000, 0x1000, 0x10000)
    head += struct.pack("<IIII", 0x2000, 0x0C, 0, 0)  # base relocations, debug directory
    return (head + section).ljust(0x200 - 0x1C8 + 40, b"\0") + body.ljust(0x200, b"\0")


def image(made: Made) -> bytes:
    """One image of `made.blocks` blocks."""
    out = bytearray(made.fill * (made.blocks * BLOCK))[: made.blocks * BLOCK]
    out[:2] = b"\x55\xaa"
    if made.code_type == 0 or made.pcir_at is None:
        _legacy(out, made)
    elif made.code_type == 3:
        _efi(out, made)
    elif made.code_type == 1:
        out[2:4] = struct.pack("<H", 0x100)  # 02h FCode program
        program = fcode_program(made.fcode)
        out[0x100 : 0x100 + len(program)] = program
    if made.pcir_at is not None:
        out[0x18:0x1A] = struct.pack("<H", made.pcir_at)
        structure = pcir(made)
        out[made.pcir_at : made.pcir_at + len(structure)] = structure
    for at, data in made.extra.items():
        out[at : at + len(data)] = data
    if (made.code_type == 0 or made.pcir_at is None) and made.fix_sum:
        under = made.initial * BLOCK
        out[under - 1] = 0
        out[under - 1] = -sum(out[:under]) & 0xFF
    return bytes(out[: made.blocks * BLOCK])


def _legacy(out: bytearray, made: Made) -> None:
    out[2] = made.initial & 0xFF  # 02h initialisation size
    out[3:6] = b"\xe9\x00\x01"  # 03h INIT entry: a near jump
    out[6:0x1C] = bytes(0x16)
    if made.undi:
        out[0x16:0x18] = struct.pack("<H", 0x160)
        out[0x160:0x176] = undi_structure()
    if made.pnp:
        out[0x1A:0x1C] = struct.pack("<H", 0x80)  # 1Ah first $PnP header
        out[0x180:0x188] = b"Corvane\0"
        at = 0x190
        for count, product in enumerate(made.pnp):
            here = 0x80 + 0x20 * count
            last = count == len(made.pnp) - 1
            out[here : here + 0x20] = pnp_header(0 if last else here + 0x20, 0x180, at)
            out[at : at + len(product) + 1] = product + b"\0"
            at += len(product) + 1


def _efi(out: bytearray, made: Made) -> None:
    out[2:4] = struct.pack("<H", made.initial)  # 02h, two bytes
    out[4:8] = struct.pack("<I", 0x0EF1)  # 04h
    out[8:14] = struct.pack("<HHH", made.subsystem, made.machine, made.compression)  # 08h, 0Ah, 0Ch
    out[14:0x1C] = bytes(14)
    out[0x16:0x18] = struct.pack("<H", made.efi_offset)  # 16h
    body = driver(made.machine, made.subsystem) if made.driver is None else made.driver
    body = pack(body) if made.compression == 1 else body
    out[made.efi_offset :] = bytes(len(out) - made.efi_offset)
    out[made.efi_offset : made.efi_offset + len(body)] = body


def efi(**more: object) -> Made:
    """An EFI image: structure revision 0 and no list, as real ones have it."""
    return Made(**{"code_type": 3, "revision": 0, "blocks": 3, **more})  # type: ignore[arg-type]


def rom(*images: Made) -> bytes:
    """Images end to end."""
    return b"".join(map(image, images))
