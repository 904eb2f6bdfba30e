"""Containers whose members intake takes out: one file a format, its row in CONTAINERS.

A container is its reader in `catalogue.formats` (whose readings are of a kind `archive/…` and list `members`), its
opener here, and its row. The reader says what a piece is and what it lists; the opener gives entries and their bytes.
"""

from __future__ import annotations

from catalogue.formats.view import PartView, View
from catalogue.intake.containers import (
    ar_members,
    cabinet_members,
    cpio_members,
    disk_members,
    installer_members,
    rpm_members,
    seven_zip_members,
    stream_members,
    tar_members,
    zip_members,
)
from catalogue.intake.containers.container import Container, Opened
from catalogue.shapes.reading import Reading

_ROWS = (
    zip_members.CONTAINER,
    seven_zip_members.CONTAINER,
    cabinet_members.CONTAINER,
    installer_members.CONTAINER,
    ar_members.CONTAINER,
    ar_members.LIBRARY,
    rpm_members.CONTAINER,
    cpio_members.CONTAINER,
    tar_members.CONTAINER,
    *stream_members.CONTAINERS,
    *disk_members.CONTAINERS,
)
CONTAINERS: dict[str, Container] = {row.kind: row for row in _ROWS}
"""Every container, by the kind of its reading."""
HEAD_BYTES = 4_096
"""First bytes by which a container is known that is too large to be unpacked into memory."""


def container_of(reading: Reading) -> tuple[Container, Reading] | None:
    """The container that a piece is, or that lies in it unpacked (behind a program), and its reading."""
    for one in (reading, *reading.parts):
        if not one.inside and one.kind in CONTAINERS:
            return CONTAINERS[one.kind], one
    return None


def is_archive(reading: Reading) -> bool:
    """Whether a piece is an archive, or a program that carries one, which can be opened."""
    return container_of(reading) is not None


def opened(view: View, reading: Reading) -> Opened | None:
    """The container in a view of which `reading` is; None where it lists nothing. Raises what its opener raises."""
    found = container_of(reading)
    if found is None:
        return None
    container, at = found
    if at is reading:
        return container.open(view)
    if container is zip_members.CONTAINER and (whole := container.open(view)) is not None:
        return whole  # its offsets may count from the program's first byte
    return container.open(PartView(view, at.offset, at.length))


def going_forward(head: bytes) -> Container | None:
    """The container that these first bytes begin and that can be read on a view that only goes forward."""
    return next((one for one in CONTAINERS.values() if one.begins is not None and one.begins(head)), None)
