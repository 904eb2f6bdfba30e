"""What a signature inside a program is worth to a family that pins keys (judging.md, "Vouching": *signed*)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from catalogue.families.model import Key
from catalogue.shapes.piece import SignatureCheck, Vouch
from catalogue.shapes.reading import Fault, Field, Reading
from tests.kits.world import Scene, bittern, choice, piece, sha

CERTIFICATE = sha("a maker's certificate")
PINNED = Key("Corvane releases", CERTIFICATE)
SIGNATURE = Reading(
    "authenticode", "signature/authenticode", "Signature by Corvane", 4_000, 600,
    fields=(
        Field("signature_valid", True), Field("digest_matches", True), Field("digest_algorithm", "sha256"),
        Field("certificate_sha256", CERTIFICATE),
    ),
)  # fmt: skip


def changed(**values: object) -> Reading:
    fields = tuple(replace(one, value=values.get(one.name, one.value)) for one in SIGNATURE.fields)
    return replace(SIGNATURE, fields=fields)


def rung(scene: Scene, *signatures: Reading, format_: str = "pe", matches: bool | None = True) -> str:
    """How the writer is vouched for when it is a program with these signatures."""
    reading = Reading(format_, "dos-program", "x", fields=(Field("digest_matches", matches),), parts=signatures)
    scene.change("writer", reading=reading, vouches=(Vouch("neighbour", "SUMS", "/in/SUMS", "sha256"),))
    return choice(scene.judge(), "writer").vouch


def pinned(*keys: Key) -> Scene:
    scene = bittern()
    scene.edit(keys=keys)
    return scene


def test_signed_by_a_pinned_key():
    assert rung(pinned(PINNED), SIGNATURE) == "signed"
    assert rung(pinned(Key("Another", sha("x")), PINNED), changed(certificate_sha256=sha("y")), SIGNATURE) == "signed"


@pytest.mark.parametrize(
    "signature",
    [
        changed(signature_valid=False),
        changed(signature_valid=None),
        changed(digest_matches=False),
        changed(digest_matches=None),
        changed(digest_algorithm="sha1"),
        changed(digest_algorithm="md5"),
        changed(certificate_sha256=sha("another")),
        replace(SIGNATURE, faults=(Fault("certificate-broken", "x"),)),
        replace(SIGNATURE, notes=(Fault("data-in-signature", "x"),)),
        replace(SIGNATURE, notes=(Fault("signed-out-of-time", "x"),)),
        replace(SIGNATURE, kind="signature/openpgp"),
    ],
)
def test_signatures_that_do_not_count(signature: Reading):
    assert rung(pinned(PINNED), signature) == "neighbour"


def test_it_is_the_whole_program_and_a_key_in_use():
    assert rung(pinned(), SIGNATURE) == "neighbour"
    assert rung(pinned(replace(PINNED, revoked=date(2026, 1, 1))), SIGNATURE) == "neighbour"
    assert rung(pinned(PINNED), SIGNATURE, format_="option-rom") == "neighbour"
    assert rung(pinned(PINNED), SIGNATURE, matches=False) == "neighbour"
    assert rung(pinned(PINNED), SIGNATURE, matches=None) == "neighbour"


@pytest.mark.parametrize("state", ["unproved", "no-key", "holds"])
def test_what_lies_beside_speaks_through_vouches_alone(state: str):
    """A check that is not broken neither stops nor vouches by itself; the store turns one that holds into a vouch."""
    scene = bittern()
    before = scene.judge()
    scene.change("ee", signatures=(SignatureCheck("/in/ee.sig", state, "a key"),))
    after = scene.judge()
    assert (after.verdict, after.findings) == (before.verdict, before.findings)
    assert piece("x").signatures == ()


def test_a_recorded_key_that_was_taken_back_waits_for_a_word():
    """Also where a list names the piece: its signature is by a key that somebody no longer trusts."""
    scene = bittern()
    before = scene.judge()
    assert before.verdict == "ready"
    check = SignatureCheck("/in/ee.sig", "taken-back", "Corvane (0123)", why="Bo took the key back: lost.")
    scene.change("ee", signatures=(check,))
    after = scene.judge()
    (fresh,) = [one for one in after.findings if one not in before.findings]
    assert (fresh.code, fresh.clearable, fresh.role) == ("key-withdrawn", True, "eeprom-image")
    assert fresh.evidence[0].place == "/in/ee.sig"
    assert after.verdict == "not-ready"
