"""The one line that says which facts of the two hosts were not given, so that nobody takes silence for a check."""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.kits.drivers import EFI_ROM
from catalogue.kits.kit_case import KitCase
from catalogue.shapes.host import UEFI


def said_of_hosts(case: KitCase) -> Iterator[str]:
    """What was not told of the destination that loads the kit's drivers, and of the bench that runs its programs."""
    drivers = [pick.role for pick in case.picks if pick.chosen is not None and pick.wanted.kind == EFI_ROM]
    machine = case.asked.host.destination
    if drivers and not (machine.boots is not None and UEFI not in machine.boots):
        lacking = [("its CPU", machine.cpu is None), ("its Secure Boot", machine.secure_boot is None)]
        if machine.secure_boot is not False:
            lacking += [("its db", machine.db is None), ("its dbx", machine.dbx is None)]
        if names := [name for name, lacks in lacking if lacks]:
            yield (f"Not told of the destination host, so not checked for {', '.join(drivers)}: {', '.join(names)}.")
    bench = case.asked.host.bench
    route = case.asked.route.bench
    if route in ("dos", "uefi") and (
        lacks := [
            name
            for name, lacks in (("its CPU", bench.cpu is None), ("the ways it starts", bench.boots is None))
            if lacks
        ]
    ):
        yield f"Not told of the bench host, so not checked: {', '.join(lacks)}."
