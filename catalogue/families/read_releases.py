"""`[[release]]`, `[[withdrawn]]` and `[[key]]` of a family file."""

from __future__ import annotations

from datetime import date

from catalogue.families.cursor import Table
from catalogue.families.model import Claim, Key, Release, Withdrawn
from catalogue.families.values import sha256

MIXES = ("stop", "caution")
OWN_KEYS = ("name", "date", "mix")
"""Keys of a release that are no role."""
_LONG_AGO = date(1980, 1, 1)


def read_release(table: Table) -> Release:
    """One release: name, date, mix, and one table a role. Without `mix`, mixing stops."""
    name = table.text("name", required=True)
    day = table.day("date", required=True)
    mix = table.choice("mix", MIXES)
    claims = {}
    for role in table.items:
        if role not in OWN_KEYS:
            below = table.sub(role)
            if below is not None:
                claims[role] = _claim(below)
    table.done()
    return Release(name or "", day or _LONG_AGO, mix or "stop", claims)


def _claim(table: Table) -> Claim:
    claim = Claim(
        version=table.text("version"),
        same=table.texts("same"),
        sha256=table.all_parsed("sha256", sha256),
        least=table.text("from"),
        most=table.text("to"),
    )
    table.done()
    return claim


def read_withdrawn(table: Table) -> Withdrawn:
    """One withdrawn piece: role, version or sha256, why, source."""
    role = table.text("role", required=True)
    version = table.text("version")
    digest = table.parsed("sha256", sha256)
    if "version" not in table and "sha256" not in table:
        table.wrong_here("needs version or sha256, to say what was withdrawn")
    why = table.text("why", required=True)
    source = table.text("source", required=True)
    table.done()
    return Withdrawn(role or "", version, digest, why or "", source or "")


def read_key(table: Table) -> Key | None:
    """One signer the family trusts: name, certificate_sha256, revoked."""
    name = table.text("name", required=True)
    digest = table.parsed("certificate_sha256", sha256, required=True)
    revoked = table.day("revoked")
    table.done()
    return Key(name or "", digest, revoked) if digest else None
