"""Rules on signatures: whether they hold, and whether the destination's Secure Boot takes the driver.

Decisions on sentences of the contract:
- `signature-broken` looks at every signature of the piece, also of an image this role does not need: bytes that are
  not those that were signed have changed, whoever needs them. A time that has passed breaks no signature. Of the
  signatures that lie beside a piece, or its companion, those count that name a recorded key: they hold or are broken.
- `driver-unsigned`, `driver-other-ca`, `driver-revoked` look at the needed images of written pieces, and of those at
  the ones for the destination's processor. A destination that starts by legacy ways alone, or with Secure Boot off,
  asks nothing. A signature that cannot be checked counts as none: it shows nothing.
- A signed driver with padding behind it is cautioned of by `driver-unsigned`: by its published source the reference
  firmware counts the padding in (DEVELOPERS.md, Decisions), and then the signature does not hold there.
- A digest in `db` is trust, whoever signed or not. An entry of `dbx` overrules: the image's digest, or a certificate of
  any of its signatures.
- `key-withdrawn` speaks of a recorded key that a person took back where its signature lies beside the piece and holds.
  Of pinned keys it speaks of whole programs, and of what a detached signature covers; in an option ROM a signature
  covers the driver alone, so it never vouches for the ROM.
"""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.kits.candidate import Candidate
from catalogue.kits.case import Case
from catalogue.kits.criteria import place_of
from catalogue.kits.drivers import SIGNATURE, Driver, loaded
from catalogue.kits.rule import Hit, Rule, Weight
from catalogue.shapes.finding import Evidence
from catalogue.shapes.host import UEFI, Machine, SecureBootKey
from catalogue.shapes.reading import Reading

_DEPTH = 6
SIGNATURES = (SIGNATURE, "signature/capsule")
"""Of programs, and of the payloads of capsules."""


def signature_broken(case: Case) -> Iterator[Hit]:
    """The signed digest is not that of the bytes: something changed after they were signed.

    Fine: an expired certificate; a signature that cannot be checked; padding behind the image; a signature beside the
    piece by a key that nobody recorded.
    Refused: a driver with one byte changed after it was signed; a recorded maker's signature of other bytes beside it.
    Looks at: the certificate table, signatures that lie beside the piece.
    """
    for part in _signatures(case.candidate.reading, _DEPTH):
        broken = next((one for one in part.faults if one.code == "signature-broken"), None)
        if broken is None:
            continue
        where = place_of(case.candidate)
        at = broken.offset if part.inside == "" else None
        want, have = str(part.value("signed_digest") or "that was signed"), str(part.value("image_digest") or "other")
        yield Hit(f"{part.title}. {broken.text}", (Evidence(where, "signed_digest", at, None, want, have),))
    yield from _beside(case.candidate)
    for companion in case.companions:
        facts = case.asked.candidates.get(companion.chosen.sha256) if companion.chosen is not None else None
        if facts is not None:
            yield from _beside(facts)


def _beside(candidate: Candidate) -> Iterator[Hit]:
    """A hit for each broken signature beside a piece."""
    for one in candidate.signatures:
        if one.state == "broken":
            text = f"The signature beside it by {one.key} is not of these bytes. {one.why}"
            yield Hit(text, (Evidence(one.place, "signature", None, None, one.key, "broken"),), piece=candidate.sha256)


def _signatures(reading: Reading, depth: int) -> Iterator[Reading]:
    if reading.kind in SIGNATURES:
        yield reading
    elif depth:
        for part in reading.parts:
            yield from _signatures(part, depth - 1)


def driver_unsigned(case: Case) -> Iterator[Hit]:
    """The destination's Secure Boot is on, or not known, and no signature of the driver holds.

    Fine: a signed driver; a digest in the destination's `db`; Secure Boot off; an image that the role does not need.
    Refused, until a person gives a word: an unsigned driver for a machine with Secure Boot on.
    Looks at: the certificate table, the host file's secure_boot.
    """
    machine = case.asked.host.destination
    for driver in _asking(case, machine):
        state = "on" if machine.secure_boot else "not known"
        if driver.holding and driver.padded:
            text = "Its driver's signature covers the driver, not the padding behind it, which firmware may count in."
            place = Evidence(place_of(case.candidate), "padding", driver.offset, None, "none behind it", "padding")
            said = f"{text} The destination's Secure Boot is {state}."
            yield Hit(said, (place, *_secure_boot(case, machine)), Weight.CAUTION)
        if driver.holding or (driver.trust is not None and driver.trust.trusted is not None):
            continue
        if driver.program is None:
            have, text = "not read", "Its driver was not read, so no signature of it is known."
        elif driver.signatures:
            have, text = "no signature that holds", "No signature of its driver holds, or could be checked."
        else:
            have, text = "unsigned", "Its driver is not signed."
        place = Evidence(place_of(case.candidate), "signed_by", driver.offset, None, "a signature", have)
        said = f"{text} The destination's Secure Boot is {state}."
        yield Hit(said, (place, *_secure_boot(case, machine)), None if machine.secure_boot else Weight.CAUTION)


def driver_other_ca(case: Case) -> Iterator[Hit]:
    """The driver is signed, but not under an authority that the destination is known to take.

    Fine: a chain that leads to a certificate in the destination's `db`, expired or not; Secure Boot off.
    Refused, until a person gives a word: signed under one authority where `db` holds another alone.
    Looks at: the signature's chain, the host's db.
    """
    machine = case.asked.host.destination
    for driver in _asking(case, machine):
        signed = driver.holding
        if not signed or (driver.trust is not None and driver.trust.trusted is not None):
            continue
        under = ", ".join(dict.fromkeys(_authority(one) for one in signed))
        known = machine.db is not None and driver.trust is not None
        held = _named(machine.db) if known else "not known"
        place = Evidence(place_of(case.candidate), "signed_by", driver.offset, None, held, under)
        if known and machine.secure_boot:
            yield Hit(f"It is signed under {under}; the destination's db holds {held}.", (place, *_list(machine, "db")))
        elif known:
            text = f"It is signed under {under}; the destination's db holds {held}, and its Secure Boot is not known."
            yield Hit(text, (place, *_list(machine, "db")), Weight.CAUTION)
        else:
            text = f"It is signed under {under}; whether the destination's db holds that is not known."
            yield Hit(text, (place, *_secure_boot(case, machine)), Weight.CAUTION)


def driver_revoked(case: Case) -> Iterator[Hit]:
    """The destination's `dbx` names the driver, or a certificate it is signed by.

    Fine: a `dbx` that names others; Secure Boot off.
    Refused, until a person gives a word: a driver whose digest stands in the supplied `dbx`.
    Looks at: the digest that Secure Boot compares, the host's dbx.
    """
    machine = case.asked.host.destination
    for driver in _asking(case, machine):
        found = driver.trust.revoked if driver.trust is not None else None
        if found is None:
            continue
        what = "its digest" if found.kind == "image-sha256" else f"the certificate {found.name}"
        place = Evidence(place_of(case.candidate), "image_digest", driver.offset, None, "not in dbx", found.name)
        entry = Evidence(found.file, found.kind, found.offset, len(found.value), "", found.name)
        yield Hit(f"The destination's dbx revokes {what}.", (place, entry))


def key_withdrawn(case: Case) -> Iterator[Hit]:
    """The piece is signed by a key that the family once pinned and has since revoked, or that a person took back.

    Fine: a piece signed by another key; a family that pins none; a key recorded anew after it was taken back.
    Refused, until a person gives a word: a program signed by a key with a `revoked` date; a piece with a signature
    beside it by a recorded key that a person here took back.
    Looks at: the family's keys, the keys recorded.
    """
    for one in case.candidate.signatures:
        if one.state == "taken-back":
            text = f"The signature beside it is by {one.key}. {one.why}"
            yield Hit(text, (Evidence(one.place, "signature", None, None, "a key in use", one.key),))
    revoked = {one.certificate_sha256: (at, one) for at, one in enumerate(case.asked.family.keys) if one.revoked}
    signed = {
        str(part.value("certificate_sha256")): part
        for part in _signatures(case.candidate.reading, _DEPTH)
        if part.value("signature_valid") is True
    }
    for certificate, part in signed.items():
        if certificate not in revoked:
            continue
        at, key = revoked[certificate]
        day = key.revoked.isoformat() if key.revoked is not None else ""
        line = case.asked.line(f"key[{at}].revoked", f"key[{at}]")
        yield Hit(
            f"It is signed by {key.name}, a key that was revoked on {day}.",
            (
                Evidence(place_of(case.candidate), "certificate_sha256", _at(part), None, "a key in use", certificate),
                Evidence(line, "revoked", None, None, "", day),
            ),
        )


def _at(part: Reading) -> int | None:
    field = next((one for one in part.fields if one.name == "certificate_sha256"), None)
    return field.offset if field is not None and part.inside == "" else None


def _asking(case: Case, machine: Machine) -> tuple[Driver, ...]:
    """The drivers that the destination's Secure Boot would ask, as far as it may be on."""
    if machine.secure_boot is False or (machine.boots is not None and UEFI not in machine.boots):
        return ()
    return loaded(case)


def _authority(signature: Reading) -> str:
    """The last issuer that its chain leads to."""
    issuers = signature.value("chain_issuers")
    return str(issuers[-1]) if isinstance(issuers, tuple) and issuers else str(signature.value("issuer") or "nobody")


def _named(keys: tuple[SecureBootKey, ...] | None) -> str:
    names = dict.fromkeys(one.name for one in keys or () if one.kind == "certificate")
    return ", ".join(list(names)[:8]) or "no certificate"


def _secure_boot(case: Case, machine: Machine) -> tuple[Evidence, ...]:
    if machine.secure_boot is None:
        return (Evidence("the destination host", "secure_boot", None, None, "told", "not told"),)
    place = f"{case.asked.host.file}:{machine.line('secure_boot')}"
    return (Evidence(place, "secure_boot", None, None, "", "on"),)


def _list(machine: Machine, key: str) -> tuple[Evidence, ...]:
    keys = machine.db if key == "db" else machine.dbx
    return tuple(Evidence(one, key, None, None, "", "") for one in dict.fromkeys(held.file for held in keys or ()))


RULES: tuple[Rule[Case], ...] = (
    Rule(
        "signature-broken", Weight.STOP, signature_broken, "A signature does not fit the bytes",
        "Fetch the piece again from its maker; do not use these bytes.", "R SEC.AUTHENTIC",
    ),
    Rule(
        "driver-unsigned", Weight.CLEARABLE, driver_unsigned, "The driver is not signed",
        "Fetch a signed driver from the maker, or ask whoever is responsible for the machine.",
        "UEFI",
    ),
    Rule(
        "driver-other-ca", Weight.CLEARABLE, driver_other_ca, "Signed under another authority",
        "Fetch a driver signed under an authority that the machine takes, or ask whoever is responsible for it.",
        "UEFI",
    ),
    Rule(
        "driver-revoked", Weight.CLEARABLE, driver_revoked, "The driver is revoked",
        "Fetch a newer driver from the maker; the machine will not start this one.", "UEFI",
    ),
    Rule(
        "key-withdrawn", Weight.CLEARABLE, key_withdrawn, "Signed by a key that was revoked",
        "Fetch the piece anew, signed by a key that is in use, and compare the two.", "T KEY.EXPOSURE",
    ),
)  # fmt: skip
