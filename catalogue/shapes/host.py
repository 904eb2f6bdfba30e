"""What is known of two machines: the one that runs the utility, and the one the card will serve in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

LEGACY, UEFI = "legacy", "uefi"


@dataclass(frozen=True, slots=True)
class SecureBootKey:
    """One entry of a machine's saved signature list.

    `kind` is certificate, image-sha256 or certificate-sha256 (of a certificate's signed part); `value` the DER bytes
    of the certificate or the digest; `name` whom it names, or the digest in hex; `file` and `offset` where it stands.
    """

    kind: str
    value: bytes
    name: str
    file: str
    offset: int


@dataclass(frozen=True, slots=True)
class Resource:
    """One entry of a saved ESRT (UEFI Specification 23.4): what the machine's firmware says of one thing it updates.

    `type` is the GUID in capitals. `lowest` is the lowest version it still takes. `status` is of the last attempt, 0
    for a success. `place` is the file and where in it.
    """

    type: str
    version: int
    lowest: int
    last_version: int
    status: int
    place: str


@dataclass(frozen=True, slots=True)
class Machine:
    """Facts of one machine; None where nobody told.

    `cpu` is a PE/COFF machine number. `boots` are the ways it can start, legacy and uefi. `db` and `dbx` are its saved
    signature lists, `resources` its saved ESRT. `lines` says where in the host file each fact stands.
    """

    cpu: int | None = None
    boots: frozenset[str] | None = None
    secure_boot: bool | None = None
    db: tuple[SecureBootKey, ...] | None = None
    dbx: tuple[SecureBootKey, ...] | None = None
    resources: tuple[Resource, ...] | None = None
    lines: tuple[tuple[str, int], ...] = ()

    def line(self, fact: str) -> int:
        """The line of the host file that states `fact`, 1 where none does."""
        return dict(self.lines).get(fact, 1)


@dataclass(frozen=True, slots=True)
class Host:
    """The machines of one host file. `digest` covers the file and all that it names; "" where no host was given."""

    name: str = ""
    file: str = ""
    digest: str = ""
    as_of: date | None = None
    bench: Machine = Machine()
    destination: Machine = Machine()


NO_HOST = Host()


@dataclass(frozen=True, slots=True)
class Signer:
    """Whose key made one signature of a driver that holds, and the last issuer its chain leads to."""

    subject: str
    authority: str
    certificate_sha256: str


@dataclass(frozen=True, slots=True)
class DriverTrust:
    """How one EFI program stands to a destination's lists.

    `sha256` is the digest that Secure Boot compares, "" where it cannot be made. `trusted` and `revoked` are the first
    entries of `db` and `dbx` that speak of it; None where none does, or no list was given.
    """

    sha256: str
    signers: tuple[Signer, ...] = ()
    trusted: SecureBootKey | None = None
    revoked: SecureBootKey | None = None
