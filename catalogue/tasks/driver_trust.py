"""What a destination's saved lists say of the EFI drivers in pieces: asked of the bytes, once a judgement."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from catalogue.formats import efi_image
from catalogue.formats.view import BytesView
from catalogue.hosts.trust import trust_of
from catalogue.intake import fetch
from catalogue.kits.candidate import Candidate
from catalogue.kits.drivers import EFI_ROM, PROGRAMS
from catalogue.shapes.host import DriverTrust, Machine
from catalogue.shapes.reading import Reading
from catalogue.store import Store

MOST_BYTES = 64 << 20


def asked_of(store: Store, machine: Machine, candidates: Iterable[Candidate]) -> Iterator[Candidate]:
    """The same candidates, those that hold EFI programs with what `machine` says of each; none is read without a list.

    Raises nothing: what cannot be read again says nothing.
    """
    found = list(candidates)
    if machine.db is None and machine.dbx is None:
        yield from found
        return
    wanted = {one.sha256 for one in found if one.kind in PROGRAMS or any(_images(one.reading))}
    read: dict[str, dict[int, DriverTrust]] = {}
    by_sha = {one.sha256: one for one in found}
    for sha256, data in fetch.each(store, sorted(wanted), MOST_BYTES):
        if data is not None:
            read[sha256] = _trusts(data, by_sha[sha256], machine)
    for one in found:
        yield replace(one, trust=read[one.sha256]) if one.sha256 in read else one


def _images(reading: Reading) -> Iterator[Reading]:
    for one in reading.parts if reading.format == "option-rom" else ():
        if one.kind == EFI_ROM and any(part.kind in PROGRAMS for part in one.parts):
            yield one


def _trusts(data: bytes, candidate: Candidate, machine: Machine) -> dict[int, DriverTrust]:
    if candidate.kind in PROGRAMS:
        return {0: trust_of(data, machine, padded=False)}
    made = {}
    for image in _images(candidate.reading):
        driver = efi_image.driver_bytes(BytesView(data), image)
        if driver is not None:
            made[image.offset] = trust_of(driver, machine, padded=True)
    return made
