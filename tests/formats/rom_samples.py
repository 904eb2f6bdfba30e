"""Option ROMs for the readers' battery."""

from __future__ import annotations

from tests.contracts.sample import Sample
from tests.formats.build_rom import Made, efi, image, rom, te

SAMPLES = (
    Sample(
        "option-rom",
        "legacy image with list, $PnP and UNDI",
        "option-rom/legacy-x86",
        image(Made(devices=(0x0064, 0x0065), pnp=(b"Heron 7.11.00", b"Heron"), undi=True)),
    ),
    Sample("option-rom", "EFI image with a driver", "option-rom/efi", image(efi())),
    Sample("option-rom", "compressed EFI image", "option-rom/efi", image(efi(compression=1))),
    Sample("option-rom", "EFI image with a TE driver", "option-rom/efi", image(efi(driver=te()))),
    Sample("option-rom", "Open Firmware image", "option-rom/open-firmware", image(Made(code_type=1))),
    Sample("option-rom", "PA-RISC image", "option-rom/pa-risc", image(Made(code_type=2, blocks=1))),
    Sample("option-rom", "image of a reserved code type", "option-rom/reserved", image(Made(code_type=9, blocks=1))),
    Sample("option-rom", "ISA-style ROM", "option-rom/isa", image(Made(pcir_at=None, blocks=1))),
    Sample(
        "option-rom",
        "legacy and EFI joined, padding, data behind",
        "option-rom",
        rom(Made(last=False), efi()) + b"\xff" * 512 + b"behind",
    ),
    Sample("option-rom", "two ROMs joined, the second hidden", "option-rom", rom(Made(), Made(device=0x0065))),
    Sample("option-rom", "pointer into code", "option-rom/legacy-x86", image(Made(extra={0x18: b"\x40\x00"}))),
)
