"""A kit object read back from JSON, strictly: what does not have the contract's shape is refused, never guessed.

KIT.JSN comes from a medium, so it may have been altered by anybody: every list and text has a bound, every digest
is sixty-four hex digits, a key given twice is refused. Unknown keys are passed over, for a later version of this
program may write more.
"""

from __future__ import annotations

import json
import string
from collections.abc import Callable, Mapping
from typing import TypeVar

from catalogue.shapes.finding import ClearedBy, Evidence, Finding, Level
from catalogue.shapes.kit import HostUsed, Kit, KitPiece, Other, Pin, RoleChoice, SavedUsed, Word
from catalogue.shapes.piece import Vouch

MAX_BYTES = 16 << 20
"""Largest KIT.JSN that is read."""
MAX_TEXT = 65_536
"""Characters of one text."""
MAX_LIST = 20_000
"""Entries of one list."""

FITS = frozenset({"yes", "no", "silent"})
RUNGS = frozenset({"signed", "named", "ran", "agreed", "neighbour", "none"})
AGES = frozenset({"current", "stale", "withdrawn", "unknown"})
VERDICTS = frozenset({"ready", "not-ready"})

T = TypeVar("T")


class NotAKit(ValueError):
    """The text is no kit object; the message names the place in it and what is wrong there."""


def kit_from_bytes(data: bytes) -> Kit:
    """The kit that KIT.JSN holds.

    Raises NotAKit when the bytes are no JSON text in UTF-8, are over `MAX_BYTES`, nest too deeply, give a key twice
    or are not a kit object.
    """
    if len(data) > MAX_BYTES:
        raise NotAKit(f"it is over {MAX_BYTES} bytes")
    try:
        value = json.loads(data.decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_constant)
    except NotAKit:
        raise
    except (ValueError, RecursionError) as error:
        raise NotAKit(f"it is no JSON text ({type(error).__name__})") from error
    return from_json_kit(value)


def from_json_kit(value: object) -> Kit:
    """The kit that `as_json.kit_object` made `value` from.

    Raises NotAKit naming the first key that is missing, of the wrong type or over a bound.
    """
    top = _Dict(value, "kit")
    return Kit(
        id=top.text("id"),
        family=top.text("family"),
        family_title=top.text("family_title"),
        family_sha256=top.digest("family_sha256"),
        route=top.text("route"),
        verdict=top.one_of("verdict", VERDICTS),
        roles=top.many("roles", _role),
        findings=top.many("findings", _finding),
        pieces=top.many("pieces", _piece),
        pins=top.many("pins", _pin),
        words=top.many("words", _word),
        said=top.texts("said"),
        host=_host(top),
        saved=top.many("saved", lambda one: SavedUsed(one.text("file"), one.digest("sha256")))
        if "saved" in top.values
        else (),
    )


def _pin(one: _Dict) -> Pin:
    """A pin; kits of older versions do not say by whom."""
    by = one.text("by") if "by" in one.values else ""
    return Pin(one.text("role"), one.digest("sha256"), one.text("reason"), by)


def _host(top: _Dict) -> HostUsed | None:
    """The host a kit was judged with; kits of older versions do not say."""
    value = top.values.get("host")
    if value is None:
        return None
    one = _Dict(value, "kit.host")
    return HostUsed(one.text("name"), one.text("file"), one.digest("digest"))


def findings_from_json(value: object) -> tuple[Finding, ...]:
    """The findings of a list that `as_json.finding_object` made. Raises NotAKit where it is none."""
    return _Dict({"findings": value}, "answer").many("findings", _finding)


class _Dict:
    """One JSON object and the path to it; every look-up checks the type and the bound."""

    def __init__(self, value: object, path: str) -> None:
        if not isinstance(value, Mapping):
            raise NotAKit(f"{path} is no object")
        self.values: Mapping[object, object] = value
        self.path = path

    def get(self, key: str) -> object:
        if key not in self.values:
            raise NotAKit(f"{self.path}.{key} is missing")
        return self.values[key]

    def wrong(self, key: str, what: str) -> NotAKit:
        return NotAKit(f"{self.path}.{key} {what}")

    def text(self, key: str) -> str:
        value = self.get(key)
        if not isinstance(value, str):
            raise self.wrong(key, "is no text")
        if len(value) > MAX_TEXT:
            raise self.wrong(key, f"is over {MAX_TEXT} characters")
        return value

    def text_or_none(self, key: str) -> str | None:
        return None if self.get(key) is None else self.text(key)

    def digest(self, key: str) -> str:
        return _digest(self.get(key), f"{self.path}.{key}")

    def digest_or_none(self, key: str) -> str | None:
        return None if self.get(key) is None else self.digest(key)

    def one_of(self, key: str, allowed: frozenset[str]) -> str:
        value = self.text(key)
        if value not in allowed:
            raise self.wrong(key, f"is none of {', '.join(sorted(allowed))}")
        return value

    def flag(self, key: str) -> bool:
        value = self.get(key)
        if not isinstance(value, bool):
            raise self.wrong(key, "is neither true nor false")
        return value

    def count(self, key: str) -> int:
        value = self.get(key)
        if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < 1 << 63:
            raise self.wrong(key, "is no size")
        return value

    def count_or_none(self, key: str) -> int | None:
        return None if self.get(key) is None else self.count(key)

    def items(self, key: str) -> list[object]:
        value = self.get(key)
        if not isinstance(value, list):
            raise self.wrong(key, "is no list")
        if len(value) > MAX_LIST:
            raise self.wrong(key, f"has over {MAX_LIST} entries")
        return value

    def many(self, key: str, make: Callable[[_Dict], T]) -> tuple[T, ...]:
        return tuple(make(_Dict(one, f"{self.path}.{key}[{at}]")) for at, one in enumerate(self.items(key)))

    def texts(self, key: str) -> tuple[str, ...]:
        found = []
        for at, one in enumerate(self.items(key)):
            if not isinstance(one, str) or len(one) > MAX_TEXT:
                raise self.wrong(f"{key}[{at}]", f"is no text of at most {MAX_TEXT} characters")
            found.append(one)
        return tuple(found)

    def digests(self, key: str) -> tuple[str, ...]:
        return tuple(_digest(one, f"{self.path}.{key}[{at}]") for at, one in enumerate(self.items(key)))


def _digest(value: object, path: str) -> str:
    if not isinstance(value, str) or len(value) != 64 or not set(value) <= set(string.hexdigits.lower()):
        raise NotAKit(f"{path} is no SHA-256 in lower-case hex")
    return value


def _role(one: _Dict) -> RoleChoice:
    return RoleChoice(
        role=one.text("role"),
        needed=one.flag("needed"),
        written=one.flag("written"),
        pieces=one.digests("pieces"),
        version=one.text_or_none("version"),
        fit=one.one_of("fit", FITS),
        vouch=one.one_of("vouch", RUNGS),
        age=one.one_of("age", AGES),
        left_out=one.flag("left_out"),
        others=one.many("others", lambda other: Other(other.digest("piece"), other.texts("why"))),
        version_source=one.text("version_source") if "version_source" in one.values else "",
        vouched_by=one.many("vouched_by", _vouch) if "vouched_by" in one.values else (),
    )


def _vouch(one: _Dict) -> Vouch:
    return Vouch(one.one_of("rung", RUNGS), *(one.text(name) for name in ("by", "place", "algorithm", "since")))


def _finding(one: _Dict) -> Finding:
    level = one.one_of("level", frozenset(level.value for level in Level))
    cleared = one.get("cleared_by")
    evidence = one.many("evidence", _evidence)
    remedy = one.text("remedy")
    if not evidence or not remedy.strip():
        raise NotAKit(f"{one.path} has no evidence or no remedy")
    return Finding(
        code=one.text("code"),
        level=Level(level),
        text=one.text("text"),
        evidence=evidence,
        remedy=remedy,
        clearable=one.flag("clearable"),
        cleared_by=None if cleared is None else _cleared(_Dict(cleared, f"{one.path}.cleared_by")),
        role=one.text_or_none("role"),
        piece=one.digest_or_none("piece"),
    )


def _cleared(one: _Dict) -> ClearedBy:
    return ClearedBy(by=one.text("by"), reason=one.text("reason"))


def _evidence(one: _Dict) -> Evidence:
    return Evidence(
        place=one.text("place"),
        field=one.text("field"),
        offset=one.count_or_none("offset"),
        length=one.count_or_none("length"),
        want=one.text("want"),
        have=one.text("have"),
    )


def _piece(one: _Dict) -> KitPiece:
    return KitPiece(one.digest("sha256"), one.count("size"), one.text("kind"), one.text("name"))


def _word(one: _Dict) -> Word:
    return Word(one.text("code"), one.digest("sha256"), one.text("reason"), one.text("by"))


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    made = dict(pairs)
    if len(made) != len(pairs):
        raise NotAKit("a key stands in it twice")
    return made


def _no_constant(name: str) -> object:
    raise NotAKit(f"{name} is no JSON number")
