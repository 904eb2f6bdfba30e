"""A facts file read strictly: hostile bytes give NotFacts with a line, never anything else."""

from __future__ import annotations

import base64
import binascii
import hashlib
import re
from collections.abc import Callable, Iterator
from datetime import datetime

from catalogue.facts import form
from catalogue.facts.form import ENTRY, HEX64, MOMENT, NAME, NotFacts, spoken
from catalogue.facts.writing import text_of
from catalogue.shapes.facts import (
    KEY,
    LIST,
    RAN,
    TAKEN_BACK,
    WORD,
    Fact,
    FactsFile,
    FamilyFile,
    KeyFact,
    ListFact,
    RanFact,
    Said,
    TakenBack,
    WordFact,
    fact_id,
)
from catalogue.shapes.reading import ListEntry
from catalogue.shapes.signing import ED25519, OPENPGP

_PRINTS = re.compile(r".*\S.*", re.DOTALL)
_UNFIT = re.compile("[\0\ud800-\udfff]")
_NO_NAME = re.compile("[\0/\\\\\ud800-\udc7f\udd00-\udfff]")
"""What no file's own name holds; U+DC80 to U+DCFF stand for bytes that are no UTF-8 (PEP 383)."""


def read(data: bytes) -> FactsFile:
    """The facts that `data` holds. Raises NotFacts, with the line, for all that `text_of` would not have written."""
    if len(data) > form.MAX_FILE_BYTES:
        raise NotFacts(1, f"it is longer than {form.MAX_FILE_BYTES >> 20} MiB")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as wrong:
        raise NotFacts(data.count(b"\n", 0, wrong.start) + 1, "it is not UTF-8 text") from None
    file = _Lines(text).file()
    again = text_of(file)
    if again != text:
        raise NotFacts(_first_other(text, again), "it is not written the one way that facts are written")
    return file


def _first_other(text: str, again: str) -> int:
    pairs = zip(text.split("\n"), again.split("\n"), strict=False)
    return next((number for number, (one, other) in enumerate(pairs, 1) if one != other), text.count("\n") + 1)


class _Lines:
    """The lines of a file, one after the other; `at` counts those that were read."""

    def __init__(self, text: str) -> None:
        self.rest = text
        self.begins = 0
        self.at = 0
        self.entries = 0

    def wrong(self, why: str) -> NotFacts:
        return NotFacts(self.at + 1, why)

    def peek(self) -> str | None:
        """The line that comes next; None behind the last one."""
        if self.begins > len(self.rest):
            return None
        end = self.rest.find("\n", self.begins)
        return self.rest[self.begins : end if end >= 0 else len(self.rest)]

    def step(self) -> None:
        """Go on to the next line."""
        end = self.rest.find("\n", self.begins)
        self.begins = end + 1 if end >= 0 else len(self.rest) + 1
        self.at += 1

    def here(self) -> str:
        """The line that comes next, which there must be."""
        line = self.peek()
        if line is None:
            raise self.wrong("the file ends too early")
        if len(line) > form.MAX_LINE:
            raise self.wrong(f"it is longer than {form.MAX_LINE} characters")
        return line

    def file(self) -> FactsFile:
        if self.here() != form.FIRST:
            raise self.wrong(f'it is no facts file of this version: its first line is "{form.FIRST}"')
        self.step()
        bench = self.value("bench", "", _PRINTS, "a name")
        sent_by = self.value("sent by", "", _PRINTS, "a name")
        facts: list[Fact] = []
        families: list[FamilyFile] = []
        while True:
            if self.here():
                raise self.wrong("an empty line stands between facts")
            self.step()
            kind = self.here()
            if kind.startswith("end: "):
                break
            if len(facts) + len(families) >= form.MAX_FACTS or len(families) >= form.MAX_FAMILIES:
                raise self.wrong(f"it holds more than {form.MAX_FACTS} facts, or {form.MAX_FAMILIES} family files")
            self.step()
            if kind == "family":
                families.append(self.family())
            elif kind in _BLOCKS:
                facts.append(self.fact(kind))
            else:
                self.at -= 1
                raise self.wrong(f"a {' or '.join(('family', *_BLOCKS))} is looked for here")
        if len({one.id for one in families}) != len(families):
            raise self.wrong("one family stands in it twice")
        return FactsFile(bench, sent_by, tuple(facts), tuple(families))

    def value(
        self,
        name: str,
        pad: str = "  ",
        pattern: re.Pattern[str] | None = None,
        means: str = "",
        *,
        empty: bool = False,
        names: bool = False,
    ) -> str:
        """The value on this line, which must be of that name; `names` are of files, in whatever bytes."""
        line = self.here()
        head = f"{pad}{name}:"
        if line == head and empty:
            found = ""
        elif line.startswith(f"{head} "):
            try:
                found = spoken(line[len(head) + 1 :])
            except ValueError as wrong:
                raise self.wrong(f"{name} {wrong}") from None
        else:
            raise self.wrong(f'"{head.strip()}" with a value is looked for here')
        if not found and not empty:
            raise self.wrong(f"{name} is empty")
        if pattern is not None and found and not pattern.fullmatch(found):
            raise self.wrong(f"{name} must be {means}")
        if not names and _UNFIT.search(found):
            raise self.wrong(f"{name} holds a character that no text holds")
        self.step()
        return found

    def text(self, name: str, most: int) -> str:
        """The text on one or more lines of that name."""
        lines = [self.value(name, empty=True)]
        size = len(lines[0])
        while (line := self.peek()) is not None and (line == f"  {name}:" or line.startswith(f"  {name}: ")):
            lines.append(self.value(name, empty=True))
            size += len(lines[-1]) + 1
            if size > most:
                raise self.wrong(f"{name} is longer than {most} characters")
        return "\n".join(lines)

    def family(self) -> FamilyFile:
        id_ = self.value("id", pattern=NAME, means="a family's id")
        sha256 = self.value("sha256", pattern=HEX64, means="64 hex digits")
        begun = self.at
        text = self.text("text", form.MAX_FAMILY)
        if _sha256(text) != sha256:
            self.at = begun
            raise self.wrong("the family file's text has another SHA-256 than the one beside it")
        return FamilyFile(id_, sha256, text)

    def fact(self, kind: str) -> Fact:
        begun = self.at
        id_ = self.value("id", pattern=HEX64, means="64 hex digits")
        bench = self.value("bench", pattern=_PRINTS, means="a name")
        by = self.value("by", empty=kind in (LIST, KEY))
        at = self.value("at", pattern=MOMENT, means="a time such as 2026-03-01T12:00:00+00:00")
        try:
            datetime.fromisoformat(at)
        except ValueError:
            self.at -= 1
            raise self.wrong("at is no time that there is") from None
        said = _BLOCKS[kind](self, by, at)
        if fact_id(said) != id_:
            self.at = begun
            raise self.wrong("the id is not the digest of what the fact says")
        return Fact(id_, said, bench)

    def listed(self) -> Iterator[ListEntry]:
        while (line := self.peek()) is not None and line.startswith("  line: "):
            self.entries += 1
            if self.entries > form.MAX_ENTRIES:
                raise self.wrong(f"it lists more than {form.MAX_ENTRIES} digests")
            found = ENTRY.fullmatch(self.here()[len("  line: ") :])
            if found is None or len(found[3]) != form.DIGITS[found[2]]:
                raise self.wrong("a number, an algorithm, its digest and a name are looked for here")
            try:
                name = spoken(found[4] or "")
            except ValueError as wrong:
                raise self.wrong(f"the name {wrong}") from None
            self.step()
            yield ListEntry(found[2], found[3], name, int(found[1]))


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _list(lines: _Lines, by: str, at: str) -> Said:
    source = lines.value("source", pattern=_PRINTS, means="a text")
    name = lines.value("name", empty=True, names=True)
    if _NO_NAME.search(name):
        raise lines.wrong("name must be a file's own name")
    return ListFact(by, at, source, name, lines.value("sha256", pattern=HEX64, means="64 hex digits"),
                    tuple(lines.listed()))  # fmt: skip


def _key(lines: _Lines, by: str, at: str) -> Said:
    source = lines.value("source", pattern=_PRINTS, means="a text")
    kind = lines.value("kind", pattern=re.compile(f"{OPENPGP}|{ED25519}"), means=f"{OPENPGP} or {ED25519}")
    fingerprint = lines.value("fingerprint", pattern=re.compile("[0-9a-f]{16,128}"), means="hex digits")
    holder = lines.value("holder", empty=True)
    text = lines.text("body", 2 * form.MAX_KEY).replace("\n", "")
    try:
        body = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        lines.at -= 1
        raise lines.wrong("body must be base64") from None
    if not 0 < len(body) <= form.MAX_KEY:
        raise lines.wrong("the key is empty or too long")
    return KeyFact(by, at, source, kind, fingerprint, holder, body)


def _word(lines: _Lines, by: str, at: str) -> Said:
    family = lines.value("family", pattern=NAME, means="a family's id")
    code = lines.value("code", pattern=NAME, means="a rule's code")
    sha256 = lines.value("sha256", pattern=HEX64, means="64 hex digits")
    return WordFact(by, at, family, code, sha256, lines.value("reason", pattern=_PRINTS, means="a text"))


def _ran(lines: _Lines, by: str, at: str) -> Said:
    def name(what: str) -> str:
        return lines.value(what, pattern=NAME, means="a name")

    def digest(what: str) -> str:
        return lines.value(what, pattern=HEX64, means="64 hex digits")

    family, family_sha256, route, steps = name("family"), digest("family sha256"), name("route"), digest("steps")
    role, mode, sha256 = name("role"), name("mode"), digest("sha256")
    subsystem = lines.value("subsystem", pattern=re.compile("[0-9a-f]{4}:[0-9a-f]{4}"), means="ssss:ssss", empty=True)
    revision = lines.value("revision", empty=True)
    card, kit = lines.value("card", pattern=_PRINTS, means="an identity"), digest("kit")
    version = lines.value("version", empty=True)
    before = lines.text("before", form.MAX_TEXT)
    after = lines.text("after", form.MAX_TEXT)
    return RanFact(by, at, family, family_sha256, route, steps, role, mode, sha256, subsystem, revision, card, kit,
                   version, before, after)  # fmt: skip


def _taken_back(lines: _Lines, by: str, at: str) -> Said:
    fact = lines.value("fact", pattern=HEX64, means="64 hex digits")
    return TakenBack(by, at, fact, lines.value("reason", pattern=_PRINTS, means="a text"))


_BLOCKS: dict[str, Callable[[_Lines, str, str], Said]] = {
    LIST: _list,
    KEY: _key,
    WORD: _word,
    RAN: _ran,
    TAKEN_BACK: _taken_back,
}
