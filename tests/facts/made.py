"""One facts file of every kind of fact, and strategies for any; invented people and benches."""

from __future__ import annotations

import hashlib

from hypothesis import strategies as st

from catalogue.shapes.facts import (
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

AT = "2026-03-01T12:00:00+00:00"


def sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def fact(said: Said, bench: str = "Saltmarsh") -> Fact:
    return Fact(fact_id(said), said, bench)


LIST = ListFact("Ann", AT, "the maker's page", "SHA256SUMS", sha("list"), (
    ListEntry("sha256", sha("a"), "fw.bin", 1), ListEntry("md5", "0" * 32, "x\udce4\\y\n z ", 3),
    ListEntry("sha1", "1" * 40, "", 4),
))  # fmt: skip
FAMILY = 'schema = 1\r\nid = "corvane-heron"  # ü\ttab\n'
FACTS = FactsFile(
    "Saltmarsh", "Ann Reed",
    (
        fact(LIST),
        fact(KeyFact("", AT, "a page", "ed25519", sha("key"), "Corvane", bytes(range(42)) * 3)),
        fact(WordFact("Bo", AT, "corvane-heron", "unvouched", sha("a"), 'said "yes" \\ no')),
        fact(RanFact("Bo", AT, "corvane-heron", sha("f"), "there", sha("s"), "firmware", "pass", sha("a"), "",
                     "C", "5F23401000001A40", sha("k"), "", "one\r\n\n two\n", "three")),
        fact(TakenBack("Ann", AT, fact_id(LIST), "the wrong page"), "Other bench"),
    ),
    (FamilyFile("corvane-heron", sha(FAMILY), FAMILY),),
)  # fmt: skip

_text = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=30)
_said = _text.filter(lambda one: bool(one.strip()))
_hex = st.binary(min_size=32, max_size=32).map(bytes.hex)
_at = st.datetimes().map(lambda one: one.replace(microsecond=0).isoformat() + "+00:00").filter(lambda at: at >= "1")
_id = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,20}", fullmatch=True)
_bytes_name = st.binary(max_size=12).map(lambda raw: raw.decode("utf-8", "surrogateescape"))
_base = _bytes_name.map(lambda name: "".join(one for one in name if one not in "\0/\\"))
_entry = st.builds(ListEntry, st.just("sha256"), _hex, _bytes_name, st.integers(1, 999_999_999))
_lines = st.lists(_text, max_size=4).map("\n".join)
SAID: st.SearchStrategy[Said] = st.one_of(
    st.builds(ListFact, _text, _at, _said, _base, _hex, st.lists(_entry, max_size=5).map(tuple)),
    st.builds(KeyFact, _text, _at, _said, st.sampled_from(("openpgp", "ed25519")), _hex, _text,
              st.binary(min_size=1, max_size=200)),
    st.builds(WordFact, _said, _at, _id, _id, _hex, _said),
    st.builds(RanFact, _said, _at, _id, _hex, _id, _hex, _id, _id, _hex, st.sampled_from(("", "f234:0001")), _text,
              _said, _hex, _text, _lines, _lines),
    st.builds(TakenBack, _said, _at, _hex, _said),
)  # fmt: skip
_family = st.builds(lambda id_, text: FamilyFile(id_, sha(text), text), _id, _lines)
FILES = st.builds(
    lambda bench, by, said, benches, families: FactsFile(
        bench, by, tuple(fact(one, at) for one, at in zip(said, benches, strict=False)),
        tuple({one.id: one for one in families}.values()),
    ),
    _said, _said, st.lists(SAID, max_size=6), st.lists(_said, min_size=6, max_size=6), st.lists(_family, max_size=2),
)  # fmt: skip
