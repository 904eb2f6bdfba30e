"""ASN.1 in its distinguished encoding: where each value begins and ends, with offsets in the bytes it was cut from.

ITU-T X.690, section 8.1. Only tags below 31 and definite lengths, which is all that signatures and certificates use;
anything else is refused. Nothing is decoded here that is not asked for, so damaged bytes cost nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

OCTET_STRING, NULL, OID, SEQUENCE, SET = 0x04, 0x05, 0x06, 0x30, 0x31
UTC_TIME, GENERALIZED_TIME = 0x17, 0x18
"""X.680, clause 8.4 (universal tags); SEQUENCE and SET with the bit of a constructed value."""
MAX_CHILDREN = 256
MAX_OID_BYTES = 64
_LONG_TAG = 31
_INDEFINITE = 0x80


class DerError(ValueError):
    """The bytes are not the structure that was looked for; `at` is the offset of the value that is not."""

    def __init__(self, what: str, at: int) -> None:
        super().__init__(what)
        self.at = at


def context(number: int, *, constructed: bool = True) -> int:
    """The tag byte of a value tagged [number] (X.690, 8.1.2)."""
    return (0xA0 if constructed else 0x80) | number


@dataclass(frozen=True, slots=True)
class Node:
    """One value: its tag byte, where it starts, where its contents start and where it ends in `data`."""

    data: bytes
    tag: int
    start: int
    body: int
    end: int

    @property
    def content(self) -> bytes:
        """The contents octets."""
        return self.data[self.body : self.end]

    @property
    def raw(self) -> bytes:
        """The whole value, tag and length included."""
        return self.data[self.start : self.end]

    def wants(self, tag: int, what: str) -> Node:
        """This node where it has that tag. Raises DerError."""
        if self.tag != tag:
            raise DerError(f"{what} has tag {self.tag:02X}h, not {tag:02X}h", self.start)
        return self

    def children(self) -> tuple[Node, ...]:
        """The values inside. Raises DerError where they do not fill this one, or are over MAX_CHILDREN."""
        found: list[Node] = []
        at = self.body
        while at < self.end:
            if len(found) == MAX_CHILDREN:
                raise DerError(f"over {MAX_CHILDREN} values in one", self.start)
            one = node_at(self.data, at, self.end)
            found.append(one)
            at = one.end
        return tuple(found)

    def parts(self, tag: int, what: str, least: int) -> tuple[Node, ...]:
        """The values inside a node that must have that tag and at least so many of them. Raises DerError."""
        inside = self.wants(tag, what).children()
        if len(inside) < least:
            raise DerError(f"{what} holds {len(inside)} values, not {least}", self.start)
        return inside

    def oid(self) -> str:
        """The object identifier in dotted form (X.690, 8.19). Raises DerError."""
        raw = self.wants(OID, "an object identifier").content
        if not raw or len(raw) > MAX_OID_BYTES or raw[-1] & 0x80:
            raise DerError("an object identifier is damaged", self.start)
        numbers, value = [], 0
        for byte in raw:
            value = value << 7 | byte & 0x7F
            if not byte & 0x80:
                numbers.append(value)
                value = 0
        first = min(numbers[0] // 40, 2)
        return ".".join(map(str, (first, numbers[0] - 40 * first, *numbers[1:])))

    def time(self) -> datetime:
        """A UTCTime or GeneralizedTime that ends in Z; fractions of a second are dropped. Raises DerError.

        RFC 5280, 4.1.2.5: two digits of a year below 50 mean 20xx.
        """
        text = self.content.decode("ascii", "replace")
        if self.tag == UTC_TIME and text[:2].isdigit():
            text = ("20" if int(text[:2]) < 50 else "19") + text
        elif self.tag != GENERALIZED_TIME:
            raise DerError("no time stands where one should", self.start)
        digits, _, rest = text.partition(".")
        if text.endswith("Z") and (not rest or rest[:-1].isdigit()):
            digits = digits.removesuffix("Z")
            if len(digits) == 14 and digits.isascii() and digits.isdigit():
                try:
                    return datetime.strptime(digits, "%Y%m%d%H%M%S").replace(tzinfo=UTC)
                except ValueError:
                    pass
        raise DerError("a time is damaged", self.start)


def node_at(data: bytes, at: int, end: int) -> Node:
    """The value that begins at `at` and ends by `end`. Raises DerError."""
    if at + 2 > end:
        raise DerError("the bytes end where a value should begin", at)
    tag, length = data[at], data[at + 1]
    body = at + 2
    if tag & _LONG_TAG == _LONG_TAG:
        raise DerError("a tag of several bytes", at)
    if length == _INDEFINITE:
        raise DerError("a length that is not given (BER)", at)
    if length & 0x80:
        width = length & 0x7F
        if width > 4 or body + width > end:
            raise DerError("a length that leads past the end", at)
        length = int.from_bytes(data[body : body + width], "big")
        body += width
    if body + length > end:
        raise DerError("a value that leads past the end", at)
    return Node(data, tag, at, body, body + length)
