"""The EFI programs of a piece that a host would load: the driver in each needed image, or the piece itself."""

from __future__ import annotations

from dataclasses import dataclass

from catalogue.kits.case import Case
from catalogue.kits.images import OPTION_ROM
from catalogue.shapes.host import DriverTrust
from catalogue.shapes.reading import Reading

EFI_ROM = f"{OPTION_ROM}/efi"
PROGRAMS = ("efi-driver", "efi-application")
SIGNATURE = "signature/authenticode"
BYTE_CODE = 0x0EBC
"""EFI byte code runs on every processor (PE Format, "Machine Types")."""


@dataclass(frozen=True, slots=True)
class Driver:
    """One EFI program. `machine` is None where nothing states it; `program` its reading, None where it is not read.

    `trust` is what the destination's saved lists say of it, None where none were given or it was not asked. `offset`
    is where it begins in the piece.
    """

    machine: int | None
    program: Reading | None
    trust: DriverTrust | None
    offset: int

    @property
    def signatures(self) -> tuple[Reading, ...]:
        """Its signatures, as they were read."""
        return tuple(one for one in self.program.parts if one.kind == SIGNATURE) if self.program is not None else ()

    @property
    def padded(self) -> bool:
        """Whether padding stands behind it that no signature covers."""
        return self.program is not None and any(one.code == "padding-not-signed" for one in self.program.notes)

    @property
    def holding(self) -> tuple[Reading, ...]:
        """The signatures that hold: made by the key of their certificate, over these very bytes."""
        return tuple(one for one in self.signatures if holds(one))


def holds(signature: Reading) -> bool:
    """Whether a signature was made by its certificate's key over the image's own bytes."""
    return signature.value("signature_valid") is True and signature.value("digest_matches") is True


def programs_of(case: Case) -> tuple[Driver, ...]:
    """Every EFI program of the piece that this role needs, for whatever processor."""
    candidate = case.candidate
    if candidate.kind in PROGRAMS:
        return (Driver(_number(candidate.reading.value("machine")), candidate.reading, candidate.trust.get(0), 0),)
    found = []
    for image in case.needed_images():
        if image.kind != EFI_ROM:
            continue
        program = next((one for one in image.part.parts if one.kind in PROGRAMS), None)
        machine = _number(image.part.value("efi_machine"))
        at = image.part.offset
        found.append(Driver(machine, program, candidate.trust.get(at), at))
    return tuple(found)


def loaded(case: Case) -> tuple[Driver, ...]:
    """Those that the destination would load: the ones for its processor where it is known and they name it."""
    every = programs_of(case) if case.wanted.role.written else ()
    cpu = case.asked.host.destination.cpu
    right = tuple(one for one in every if cpu is not None and one.machine in (cpu, BYTE_CODE))
    return right or every


def _number(value: object) -> int | None:
    return value if isinstance(value, int) else None
