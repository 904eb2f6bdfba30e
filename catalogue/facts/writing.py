"""A facts file's text: the same facts, the same bytes."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Iterator

from catalogue.facts.form import FIRST, spelt
from catalogue.shapes.facts import Fact, FactsFile, FamilyFile, KeyFact, ListFact, RanFact, TakenBack, WordFact

BASE64_LINE = 76
"""Characters of base64 on a line (RFC 2045, 6.8)."""


def text_of(file: FactsFile) -> str:
    """The whole text. Facts stand sorted by kind, time and id; family files by id."""
    every = sorted(file.facts, key=lambda one: (one.order, one.bench), reverse=True)
    facts = sorted({one.id: one for one in every}.values(), key=lambda one: one.order)
    families = sorted(file.families, key=lambda one: one.id)
    lines = [FIRST, f"bench: {spelt(file.bench)}", f"sent by: {spelt(file.sent_by)}"]
    for block in (*map(_family, families), *(_fact(one, file.bench) for one in facts)):
        lines += ["", *block]
    lines += ["", f"end: {len(facts) + len(families)}", ""]
    return "\n".join(lines)


def _family(one: FamilyFile) -> Iterator[str]:
    yield "family"
    yield from _rows(("id", one.id), ("sha256", one.sha256), *_texts("text", one.text))


def _fact(fact: Fact, bench: str) -> Iterator[str]:
    said = fact.said
    yield fact.kind
    yield from _rows(("id", fact.id), ("bench", fact.bench or bench), ("by", said.by), ("at", said.at))
    if isinstance(said, ListFact):
        yield from _rows(("source", said.source), ("name", said.name), ("sha256", said.sha256))
        for one in said.entries:
            name = f" {spelt(one.name)}" if one.name else ""
            yield f"  line: {one.line} {one.algorithm} {one.digest}{name}"
    elif isinstance(said, KeyFact):
        yield from _rows(("source", said.source), ("kind", said.kind), ("fingerprint", said.fingerprint))
        yield from _rows(("holder", said.holder), *(("body", one) for one in _base64(said.body)))
    elif isinstance(said, WordFact):
        yield from _rows(("family", said.family), ("code", said.code), ("sha256", said.sha256), ("reason", said.reason))
    elif isinstance(said, RanFact):
        yield from _rows(
            ("family", said.family), ("family sha256", said.family_sha256), ("route", said.route),
            ("steps", said.steps), ("role", said.role), ("mode", said.mode), ("sha256", said.sha256),
            ("subsystem", said.subsystem), ("revision", said.revision), ("card", said.card), ("kit", said.kit),
            ("version", said.version), *_texts("before", said.before), *_texts("after", said.after),
        )  # fmt: skip
    else:
        yield from _taken_back(said)


def _taken_back(said: TakenBack) -> Iterator[str]:
    yield from _rows(("fact", said.fact), ("reason", said.reason))


def _rows(*rows: tuple[str, str]) -> Iterator[str]:
    for name, value in rows:
        yield f"  {name}: {spelt(value)}" if value else f"  {name}:"


def _texts(name: str, text: str) -> Iterable[tuple[str, str]]:
    return ((name, line) for line in text.split("\n"))


def _base64(data: bytes) -> Iterator[str]:
    text = base64.b64encode(data).decode("ascii")
    for at in range(0, len(text), BASE64_LINE):
        yield text[at : at + BASE64_LINE]
