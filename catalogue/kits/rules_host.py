"""Rules on the two machines: does the bench run the program, does the destination's firmware take the package.

Decisions on sentences of the contract:
- `bench-refuses` speaks of programs that are run, never of pieces that are written. What is not told of the bench is
  said beside the verdict; only an EFI program whose signature the bench may ask for earns a caution then.
- `package-no-match` asks the card as it shows itself before the route (its `from` mode). A capsule's image type is
  foreign where the ESRT of a machine was given and names others alone.
- `below-lowest` and `last-attempt-failed` ask the ESRT of both machines: the card may have stood in either.
"""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.families.model import IdPattern
from catalogue.kits.case import Case
from catalogue.kits.criteria import PROGRAMS as RUN
from catalogue.kits.criteria import place_of
from catalogue.kits.drivers import BYTE_CODE, programs_of
from catalogue.kits.rule import Hit, Rule, Weight
from catalogue.shapes.finding import Evidence
from catalogue.shapes.host import LEGACY, UEFI, Machine, Resource
from catalogue.shapes.reading import Reading

CPU_NAMES = {
    0x014C: "ia32", 0x01C2: "arm", 0x0EBC: "EFI byte code", 0x8664: "x86-64", 0xAA64: "aarch64", 0x5064: "riscv64",
    0x6264: "loongarch64",
}  # fmt: skip
_X86 = (0x014C, 0x8664)
_ELF = {3: 0x014C, 40: 0x01C2, 62: 0x8664, 183: 0xAA64, 243: 0x5064, 258: 0x6264}
"""e_machine of an ELF program (gABI's registry, from memory) as the PE machine number of the same processor."""
CAPSULE, PACKAGE, RECORD = "capsule", "pldm-package", "pldm-device-record"
PCI_REVISION = "pci_revision"
"""DSP0267, "Descriptor identifiers": 0103h, one byte."""


def name_of(machine: int | None) -> str:
    """A processor in words."""
    return "not known" if machine is None else CPU_NAMES.get(machine, f"machine {machine:04X}h")


def bench_refuses(case: Case) -> Iterator[Hit]:
    """The bench host does not run the program: another processor, another way to start, Secure Boot.

    Fine: a DOS program on a bench that starts by legacy ways too; an unsigned EFI program with Secure Boot off.
    Refused, until a person gives a word: an unsigned EFI program on a bench with Secure Boot on.
    Looks at: the host file's facts of the bench, the program's machine and signature.
    """
    kind, bench = case.candidate.kind, case.asked.host.bench
    if case.wanted.role.written or not (kind in RUN or case.wanted.kind in RUN):
        return
    route, cpu = case.asked.route.bench, bench.cpu
    need = {"dos": LEGACY, "uefi": UEFI}.get(route)
    if need is not None and bench.boots is not None and need not in bench.boots:
        yield _refused(case, "boots", need, ", ".join(sorted(bench.boots)), f"does not start by the {need} way")
    if cpu is not None and route == "dos" and cpu not in _X86:
        yield _refused(case, "cpu", "ia32 or x86-64", name_of(cpu), "has no processor that runs DOS programs")
    if kind == "linux-program":
        yield from _linux(case, bench)
    elif kind == "efi-application":
        yield from _efi(case, bench)


def _linux(case: Case, bench: Machine) -> Iterator[Hit]:
    machine = case.candidate.reading.value("machine")
    own = _ELF.get(machine) if isinstance(machine, int) else None
    if bench.cpu is None or own is None or own == bench.cpu:
        return
    weight = Weight.CAUTION if (own, bench.cpu) == (0x014C, 0x8664) else None
    say = "may run it only with the libraries of the other processor" if weight else "has another processor"
    yield _refused(case, "cpu", name_of(own), name_of(bench.cpu), say, weight)


def _efi(case: Case, bench: Machine) -> Iterator[Hit]:
    (program,) = programs_of(case)
    if bench.cpu is not None and program.machine not in (None, bench.cpu, BYTE_CODE):
        yield _refused(case, "cpu", name_of(program.machine), name_of(bench.cpu), "has another processor")
    if bench.secure_boot is False or program.holding:
        return
    weight = None if bench.secure_boot else Weight.CAUTION
    state = "on" if bench.secure_boot else "not told"
    say = "asks for a signature, and the program has none that holds"
    yield _refused(case, "secure_boot", "off", state, say if bench.secure_boot else f"may be one that {say}", weight)


def _refused(case: Case, fact: str, want: str, have: str, say: str, weight: Weight | None = None) -> Hit:
    host = case.asked.host
    told = f"{host.file}:{host.bench.line(fact)}" if host.file else "the bench host"
    place = Evidence(place_of(case.candidate), "kind", 0, None, "", case.candidate.kind)
    return Hit(f"The bench host {say}.", (place, Evidence(told, fact, None, None, want, have)), weight)


def package_no_match(case: Case) -> Iterator[Hit]:
    """No record of the package is for the card as it shows itself, or the machine's firmware knows no such image.

    Fine: a record that leaves the subsystem out, or gives it as 0; any package where the family gives no IDs.
    Refused: a package whose every record names another device; a capsule for a GUID that the saved ESRT lacks.
    Looks at: the package's descriptors, a capsule's image type, the saved ESRT.
    """
    candidate = case.candidate
    if candidate.kind == PACKAGE:
        mode = case.asked.family.modes.get(case.asked.route.source_mode)
        records = [one for one in candidate.reading.parts if one.kind == RECORD]
        if mode is None or not records or records_for(case):
            return
        want = ", ".join(f"{one.vendor:04X}:{one.device:04X}" for one in mode.ids)
        evidence = tuple(
            Evidence(place_of(candidate), "pci_device", field_at(one, "pci_device"), None, want, _described(one))
            for one in records[:_SHOWN]
        )
        yield Hit(f"None of its {len(records)} records is for {want}, as the card shows itself.", evidence)
    elif candidate.kind == CAPSULE:
        known = resources(case)
        if not known:
            return
        for part in _payloads(candidate.reading):
            found = part.value("image_type")
            if found not in {one.type for one in known}:
                where = Evidence(place_of(candidate), "image_type", field_at(part, "image_type"), 16, "", str(found))
                yield Hit(f"No machine's saved ESRT knows the image type {found}.", (where, *_tables(known)))


def records_for(case: Case) -> list[Reading]:
    """The records of a package that are for the card as it shows itself before the route."""
    mode = case.asked.family.modes.get(case.asked.route.source_mode)
    records = [one for one in case.candidate.reading.parts if one.kind == RECORD]
    return [one for one in records if mode is not None and any(_matches(one, card) for card in mode.ids)]


_SHOWN = 8
_DESCRIBED = (
    ("pci_vendor", "vendor"), ("pci_device", "device"), ("pci_subsystem_vendor", "subvendor"),
    ("pci_subsystem", "subdevice"),
)  # fmt: skip


def _matches(record: Reading, card: IdPattern) -> bool:
    """Whether every descriptor that says something is the card's (Linux `lib/pldmfw`): absent, or 0, says nothing."""
    for name, attribute in _DESCRIBED:
        said, own = record.value(name), getattr(card, attribute)
        if isinstance(said, int) and said != 0 and own is not None and said != own:
            return False
    return isinstance(record.value("pci_vendor"), int) and isinstance(record.value("pci_device"), int)


def _described(record: Reading) -> str:
    said = ((name, record.value(name)) for name, _own in _DESCRIBED)
    return ", ".join(f"{name} {value:04X}" for name, value in said if isinstance(value, int)) or "no PCI descriptor"


def _payloads(reading: Reading) -> tuple[Reading, ...]:
    return tuple(one for one in reading.parts if one.kind == "capsule-payload")


def field_at(part: Reading, name: str) -> int | None:
    """Where a field of a part lies."""
    return next((one.offset for one in part.fields if one.name == name), None)


def resources(case: Case) -> tuple[Resource, ...]:
    """What the saved ESRT of either machine says."""
    host = case.asked.host
    return (*(host.bench.resources or ()), *(host.destination.resources or ()))


def _tables(known: tuple[Resource, ...]) -> tuple[Evidence, ...]:
    return tuple(Evidence(one.place, "fw_class", None, None, "", one.type) for one in known[:_SHOWN])


def below_esrt(case: Case) -> Iterator[Hit]:
    """Hits of `below-lowest` for a capsule under the lowest version that the machine's firmware takes."""
    for part, one in _updates(case):
        version = part.value("firmware_version")
        if isinstance(version, int) and version < one.lowest:
            at = field_at(part, "firmware_version")
            want = f"at least {one.lowest:#010x}"
            yield Hit(
                f"Its version is {version:#010x}; the machine's firmware takes {want}.",
                (
                    Evidence(place_of(case.candidate), "firmware_version", at, 4, want, f"{version:#010x}"),
                    Evidence(one.place, "lowest_supported_fw_version", None, None, "", f"{one.lowest:#010x}"),
                ),
            )


def last_attempt_failed(case: Case) -> Iterator[Hit]:
    """The machine's firmware says that its last try to update this very thing failed.

    Fine: a last attempt that went well; no saved ESRT.
    Refused: none; a status other than 0 earns a caution, with what it means.
    Looks at: the saved ESRT.
    """
    for _part, one in _updates(case):
        if one.status:
            said = f"status {one.status}, {STATUSES.get(one.status, 'not named by the standard')}"
            place = Evidence(one.place, "last_attempt_status", None, None, "0", str(one.status))
            yield Hit(f"The last update of it, to version {one.last_version:#010x}, failed: {said}.", (place,))


def _updates(case: Case) -> Iterator[tuple[Reading, Resource]]:
    if case.candidate.kind == CAPSULE:
        known = resources(case)
        for part in _payloads(case.candidate.reading):
            for one in known:
                if one.type == part.value("image_type"):
                    yield part, one


STATUSES = {
    1: "unsuccessful", 2: "not enough resources", 3: "incorrect version", 4: "invalid format",
    5: "authentication error", 6: "no mains power", 7: "battery too low", 8: "unsatisfied dependencies",
}  # fmt: skip
"""UEFI Specification 23.4, LAST_ATTEMPT_STATUS."""

RULES: tuple[Rule[Case], ...] = (
    Rule(
        "package-no-match", Weight.STOP, package_no_match, "The package is not for this card",
        "Fetch the package whose records name the card as it shows itself now.", "DSP0267, UEFI",
    ),
    Rule(
        "bench-refuses", Weight.CLEARABLE, bench_refuses, "The bench host does not run it",
        "Take a route for this bench, another bench, or a program it runs.", "UEFI",
    ),
    Rule(
        "last-attempt-failed", Weight.CAUTION, last_attempt_failed, "The last update failed",
        "Find out why it failed before another try.", "UEFI",
    ),
)  # fmt: skip
