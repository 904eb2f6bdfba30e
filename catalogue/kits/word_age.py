"""What has changed since a person gave a word: the family file, the rules, the bytes at the place, the time.

A word never carries to other bytes: it names one content. So other bytes at the old place are said, not judged by it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

OLD_AFTER_DAYS = 365
_SHOWN = 12


@dataclass(frozen=True, slots=True)
class Then:
    """What stood when the word was given: the family file's SHA-256, the rules' version, the piece's place."""

    family_sha256: str
    rules: int
    place: str = ""


@dataclass(frozen=True, slots=True)
class Now:
    """What stands now. `accepted` is the day on which this family file was accepted, "" where nobody did.

    `held` says whether the bytes lie anywhere in the catalogue; `lies_there` is the SHA-256 of what lies at the old
    place, None for nothing that is known.
    """

    family_sha256: str
    rules: int
    today: date
    accepted: str = ""
    held: bool = True
    lies_there: str | None = None


def changes(sha256: str, given: str, then: Then | None, now: Now) -> Iterator[str]:
    """What has changed since the word was given (`given` is ISO 8601), each in one sentence."""
    day = given[:10]
    if then is None:
        yield "What stood when it was given is not on record: look at it again."
    else:
        if then.family_sha256 != now.family_sha256:
            since = f", accepted on {now.accepted[:10]}" if now.accepted else ""
            yield (
                f"The family file has changed since {day}: then SHA-256 {then.family_sha256[:_SHOWN]}, "
                f"now {now.family_sha256[:_SHOWN]}{since}."
            )
        if then.rules != now.rules:
            yield f"The rules have changed since {day}: version {then.rules} then, {now.rules} now."
        if then.place and now.lies_there not in (None, sha256):
            yield (
                f"Other bytes lie at {then.place} now (SHA-256 {(now.lies_there or '')[:_SHOWN]}); the word does not "
                "speak of them."
            )
    if not now.held:
        yield "The bytes it was given for lie nowhere in the catalogue any more."
    try:
        age = (now.today - date.fromisoformat(day)).days
    except ValueError:
        age = 0
    if age > OLD_AFTER_DAYS:
        yield f"It is over a year old: it was given on {day}."
