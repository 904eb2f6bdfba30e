"""The JSON of the command line's contract: its keys, its safety for any text, and the way back for a kit."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.shapes.as_json import as_text, to_json
from catalogue.shapes.changes import Changes
from catalogue.shapes.finding import ClearedBy, Evidence, Finding, Level
from catalogue.shapes.from_json import NotAKit, from_json_kit, kit_from_bytes
from catalogue.shapes.kit import Kit, KitPiece, Other, Pin, RoleChoice, Word
from catalogue.shapes.piece import PieceDetail, PieceInfo, Place, Vouch
from catalogue.shapes.reading import CardId, DateClaim, Fault, Field, Reading, SignedBy, VersionClaim
from catalogue.shapes.results import (
    Accepted,
    FamilyInfo,
    FamilyMatch,
    FileProblem,
    FileState,
    IndexSummary,
    ReadBack,
    Unreadable,
    WriteOut,
    WrittenFile,
)

anything = st.text(st.characters(), max_size=20)  # lone surrogates and control characters too
digests = st.text("0123456789abcdef", min_size=64, max_size=64)
counts = st.integers(0, 2**63 - 1)
evidence = st.builds(
    Evidence,
    place=anything,
    field=anything,
    offset=st.none() | counts,
    length=st.none() | counts,
    want=anything,
    have=anything,
)
findings = st.builds(
    Finding,
    code=anything,
    level=st.sampled_from(Level),
    text=anything,
    evidence=st.lists(evidence, min_size=1, max_size=2).map(tuple),
    remedy=anything.map(lambda text: f"Do {text}"),
    clearable=st.booleans(),
    cleared_by=st.none() | st.builds(ClearedBy, by=anything, reason=anything),
    role=st.none() | anything,
    piece=st.none() | digests,
)


def many(of, most=3):
    return st.lists(of, max_size=most).map(tuple)


kits = st.builds(
    Kit,
    id=anything,
    family=anything,
    family_title=anything,
    family_sha256=digests,
    route=anything,
    verdict=st.sampled_from(["ready", "not-ready"]),
    roles=many(
        st.builds(
            RoleChoice,
            role=anything,
            needed=st.booleans(),
            written=st.booleans(),
            pieces=many(digests),
            version=st.none() | anything,
            fit=st.sampled_from(["yes", "no", "silent"]),
            vouch=st.sampled_from(["signed", "named", "ran", "agreed", "neighbour", "none"]),
            age=st.sampled_from(["current", "stale", "withdrawn", "unknown"]),
            left_out=st.booleans(),
            others=many(st.builds(Other, piece=digests, why=many(anything))),
        )
    ),
    findings=many(findings),
    pieces=many(st.builds(KitPiece, sha256=digests, size=counts, kind=anything, name=anything)),
    pins=many(st.builds(Pin, role=anything, sha256=digests, reason=anything)),
    words=many(st.builds(Word, code=anything, sha256=digests, reason=anything, by=anything)),
    said=many(anything),
)


@given(kits)
def test_a_kit_comes_back_the_same_from_its_own_text(kit):
    text = as_text(kit)
    assert text.isascii() and text.isprintable() is False  # only the line ends are control characters
    assert not set(text) & {chr(n) for n in range(32) if chr(n) != "\n"}
    assert kit_from_bytes(text.encode("ascii")) == kit
    assert as_text(kit_from_bytes(text.encode("ascii"))) == text


A_KIT = Kit(
    id="7f3a",
    family="bittern",
    family_title="Corvane Bittern",
    family_sha256="0" * 64,
    route="raid-to-pass-dos",
    verdict="ready",
    roles=(RoleChoice("firmware", True, True, ("1" * 64,), "12", others=(Other("2" * 64, ("older",)),)),),
    findings=(
        Finding(
            "unvouched", Level.CAUTION, "t", (Evidence("p", "f", 1, 2, "w", "h"),), "r", True, ClearedBy("Ada", "why")
        ),
    ),
    pieces=(KitPiece("1" * 64, 3, "opaque", "fw.bin"),),
    words=(Word("unvouched", "1" * 64, "why", "Ada"),),
    pins=(Pin("firmware", "1" * 64, "why"),),
)


def test_a_kit_object_has_the_keys_of_the_contract():
    made = to_json(A_KIT)
    assert {"id", "family", "route", "verdict", "roles", "findings"} <= made.keys()
    assert {"role", "pieces", "version", "fit", "vouch", "age", "left_out", "others"} <= made["roles"][0].keys()
    assert made["roles"][0]["others"] == [{"piece": "2" * 64, "why": ["older"]}]
    assert {
        "code", "level", "clearable", "cleared_by", "role", "piece", "text", "evidence", "remedy",
    } <= made["findings"][0].keys()  # fmt: skip
    assert made["findings"][0]["cleared_by"] == {"by": "Ada", "reason": "why"}
    assert made["findings"][0]["evidence"] == [
        {"place": "p", "field": "f", "offset": 1, "length": 2, "want": "w", "have": "h"}
    ]


def test_a_piece_object_has_the_keys_of_the_contract():
    info = PieceInfo(
        "a" * 64,
        3,
        "option-rom/efi",
        "A ROM",
        places=(Place("/x/a\udcff.zip", ("b.rom",)),),
        ids=(CardId(0xF234, 0x0C81, (0x0C82,), 0x010700),),
        versions=(VersionClaim("8.41", "string", 7),),
        faults=(Fault("rom-damaged", "t", None),),
        vouch=(Vouch("named", "family", "f.toml", "sha256"),),
        dates=(DateClaim("2026-02-10", "date stamp", 9),),
    )
    part = Reading("pci-option-rom", "option-rom/efi", "image", fields=(Field("last_image", True, 21, 1),))
    reading = Reading("pci-option-rom", "option-rom/efi", "A ROM", parts=(part,))
    plain = to_json(info)
    assert plain == {
        "sha256": "a" * 64,
        "size": 3,
        "kind": "option-rom/efi",
        "title": "A ROM",
        "places": ["/x/a\udcff.zip › b.rom"],
        "ids": [{"vendor": 0xF234, "device": 0x0C81, "devices": [0x0C82], "class": 0x010700}],
        "versions": [{"value": "8.41", "source": "string", "offset": 7, "trust": "field"}],
        "dates": [{"value": "2026-02-10", "source": "date stamp", "offset": 9}],
        "faults": [{"code": "rom-damaged", "text": "t", "offset": None}],
        "vouch": [{"rung": "named", "by": "family", "place": "f.toml", "algorithm": "sha256", "since": ""}],
    }
    full = to_json(PieceDetail(info, reading))
    assert plain.items() <= full.items()
    assert {"format", "fields", "parts"} <= full["reading"].keys()
    image = full["reading"]["parts"][0]
    assert {"name": "last_image", "value": True, "offset": 21, "length": 1}.items() <= image["fields"][0].items()
    assert json.loads(as_text(info))["places"] == plain["places"]


def test_the_results_have_the_keys_of_the_contract():
    indexed = IndexSummary(1, 2, 3, 4, 5, 6, 7, (Unreadable("p", "w"),), 0.5)
    made = to_json(indexed)
    assert made["unreadable"] == [{"place": "p", "why": "w"}]
    assert list(made) == [
        "files", "pieces", "archives", "new", "changed", "unchanged", "gone", "unreadable", "seconds"
    ]  # fmt: skip
    problem = FileProblem("f.toml", 3, "t")
    family = to_json(FamilyInfo("b", "B", ("raid",), ("fw",), ("r",), False, "f.toml", (problem,)))
    assert {"id": "b", "name": "B", "modes": ["raid"], "roles": ["fw"], "routes": ["r"], "settled": False}.items() <= (
        family.items()
    )
    assert to_json(problem) == {"file": "f.toml", "line": 3, "text": "t"}
    assert {"id": "b", "mode": "raid", "why": "w"}.items() <= to_json(FamilyMatch("b", "B", "raid", "w")).items()
    assert {"id": "b", "sha256": "s", "settled": True}.items() <= to_json(Accepted("b", "s", True)).items()
    wrote = WriteOut("/t", A_KIT, (WrittenFile("FW.BIN", "firmware", "1" * 64, 3),), (), "same", "BITT-7F3", Changes())
    assert {"target": "/t", "kit": "7f3a", "read_back": "same"}.items() <= to_json(wrote).items()
    assert to_json(wrote)["files"] == [{"name": "FW.BIN", "role": "firmware", "sha256": "1" * 64, "size": 3}]
    assert to_json(ReadBack("/t", (FileState("FW.BIN", "same"),), (), "same")) == {
        "target": "/t",
        "files": [{"name": "FW.BIN", "state": "same"}],
        "findings": [],
        "read_back": "same",
    }


def test_what_changed_is_for_the_window_alone_and_objects_are_refused():
    assert "changes" not in to_json(Accepted("b", "s", True))
    with pytest.raises(TypeError, match="object"):
        to_json(object())


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda kit: kit.pop("roles"), "kit.roles is missing"),
        (lambda kit: kit.update(roles={}), "kit.roles is no list"),
        (lambda kit: kit.update(verdict="fine"), "kit.verdict"),
        (lambda kit: kit["roles"][0].update(fit="maybe"), r"kit.roles\[0\].fit"),
        (lambda kit: kit["roles"][0]["pieces"].append("AB"), r"kit.roles\[0\].pieces\[1\]"),
        (lambda kit: kit["roles"][0].update(needed=1), "needed is neither"),
        (lambda kit: kit["pieces"][0].update(size=-1), "size is no size"),
        (lambda kit: kit["pieces"][0].update(size=True), "size is no size"),
        (lambda kit: kit["findings"][0].update(evidence=[]), "no evidence"),
        (lambda kit: kit.update(id="x" * 70_000), "over 65536 characters"),
        (lambda kit: kit.update(said=["x"] * 20_001), "over 20000 entries"),
        (lambda kit: kit.update(said=[3]), r"said\[0\] is no text"),
    ],
)
def test_a_kit_of_another_shape_is_refused_by_name(spoil, says):
    value = to_json(A_KIT)
    spoil(value)
    with pytest.raises(NotAKit, match=says):
        from_json_kit(value)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff\xfe",
        b"[]",
        b"[" * 200_000,
        b'{"id": 1, "id": 2}',
        b'{"id": NaN}',
        b'{"id": ' + b"9" * 5_000 + b"}",
        b" " * (16 * 1024 * 1024 + 1),
    ],
)
def test_bytes_that_are_no_kit_are_refused(data):
    with pytest.raises(NotAKit):
        kit_from_bytes(data)


def test_unknown_keys_of_a_later_version_are_passed_over():
    value = to_json(A_KIT)
    value["later"] = [1]
    assert from_json_kit(value) == A_KIT
    assert from_json_kit(to_json(replace(A_KIT, verdict="not-ready"))).verdict == "not-ready"


def test_signers_have_the_keys_of_the_contract():
    signers = (SignedBy("Corvane Firmware", "Saltmarsh Authority", "2031-06-30"),)
    made = to_json(Reading("pe", "efi-driver", "t", fields=(Field("signed_by", signers), Field("none", ()))))
    assert isinstance(made, dict)
    assert [one["value"] for one in made["fields"]] == [
        [{"subject": "Corvane Firmware", "issuer": "Saltmarsh Authority", "expires": "2031-06-30"}],
        [],
    ]


def test_a_kit_without_the_source_of_its_versions_is_still_read():
    """KIT.JSN of a medium that an earlier version wrote has no such key."""
    made = json.loads(as_text(A_KIT))
    for role in made["roles"]:
        del role["version_source"]
    assert [one.version_source for one in from_json_kit(made).roles] == ["" for _ in made["roles"]]
