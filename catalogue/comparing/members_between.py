"""Which members differ between two versions of a bundle: by name first, then what moved by its content."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from catalogue.comparing.bounds import MAX_MEMBERS
from catalogue.shapes.comparison import MemberDifference
from catalogue.shapes.piece import INTO


@dataclass(frozen=True, slots=True)
class Held:
    """One member: its SHA-256 ("" where it could not be read, and `why`), its size in bytes and its kind."""

    sha256: str
    size: int
    kind: str
    why: str = ""


@dataclass(slots=True)
class Bundle:
    """What a bundle holds, by the way to it.

    `unread` names what was not read to its end, by the beginning that the ways of its members have ("" for the bundle
    itself), and why: whether a member is missing there cannot be told.
    """

    held: dict[str, Held] = field(default_factory=dict)
    unread: dict[str, str] = field(default_factory=dict)

    def unknown(self, way: str) -> str:
        """Why it cannot be told whether the bundle has `way`; "" where it can."""
        return next((why for before, why in self.unread.items() if way.startswith(before)), "")


@dataclass(frozen=True, slots=True)
class MembersFound:
    """The members that differ, how many more were left out, and how many are the same."""

    differing: tuple[MemberDifference, ...]
    left_out: int
    same: int


def bundles_between(a: Bundle, b: Bundle, most: int = MAX_MEMBERS) -> MembersFound:
    """As `members_between`; what one side lacks is not called added or gone where that side was not read to its end."""
    found = members_between(a.held, b.held, len(a.held) + len(b.held))
    told = tuple(_doubted(one, a, b) if a.unread or b.unread else one for one in found.differing)
    return MembersFound(told[:most], max(0, len(told) - most), found.same)


def _doubted(one: MemberDifference, a: Bundle, b: Bundle) -> MemberDifference:
    letter, why = "", ""
    if one.state == "added":
        letter, why = "A", a.unknown(one.name)
    elif one.state == "gone":
        letter, why = "B", b.unknown(one.name)
    return replace(one, state="unreadable", why=f"Whether {letter} has it is unknown: {why}") if why else one


def members_between(a: Mapping[str, Held], b: Mapping[str, Held], most: int = MAX_MEMBERS) -> MembersFound:
    """What changed, moved, went and came from `a` to `b`, by name; at most `most` are told."""
    told: list[MemberDifference] = []
    same = 0
    gone = {name: one for name, one in a.items() if name not in b}
    waiting: dict[str, list[str]] = {}
    for name in sorted(gone, reverse=True):
        if gone[name].sha256:
            waiting.setdefault(gone[name].sha256, []).append(name)
    for name in sorted(b):
        one, other = a.get(name), b[name]
        if one is None:
            was = waiting[other.sha256].pop() if waiting.get(other.sha256) else ""
            if was:
                del gone[was]
                told.append(_row(name, "moved", a[was], other, was=was))
            else:
                told.append(_row(name, "unreadable" if other.why else "added", None, other))
        elif (not one.sha256 or not other.sha256) and not _in_equals(name, a, b):
            told.append(_row(name, "unreadable", one, other))
        elif one.sha256 == other.sha256:
            same += 1
        else:
            told.append(_row(name, "changed", one, other))
    told += (_row(name, "unreadable" if one.why else "gone", one, None) for name, one in gone.items())
    told.sort(key=lambda one: (one.name, one.state))
    return MembersFound(tuple(told[:most]), max(0, len(told) - most), same)


def _in_equals(name: str, a: Mapping[str, Held], b: Mapping[str, Held]) -> bool:
    """Whether an archive round the member is the same in both; then so is the member, readable or not."""
    way = name
    while INTO in way:
        way = way.rpartition(INTO)[0]
        one, other = a.get(way), b.get(way)
        if one is not None and other is not None and one.sha256 and one.sha256 == other.sha256:
            return True
    return False


def _row(name: str, state: str, a: Held | None, b: Held | None, was: str = "") -> MemberDifference:
    held = b or a
    assert held is not None
    why = " ".join(one.why for one in (a, b) if one is not None and one.why)
    return MemberDifference(
        name,
        state,
        a.sha256 if a else "",
        b.sha256 if b else "",
        a.size if a else 0,
        b.size if b else 0,
        held.kind,
        was,
        why,
    )
