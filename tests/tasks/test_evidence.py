"""Every finding leads somewhere in one press, the way the window goes: to bytes, a line, a person, a host's form."""

from __future__ import annotations

import hashlib

import pytest

from catalogue.shapes.finding import Evidence
from catalogue.shapes.target import Leads
from catalogue.store import Store, evidence
from catalogue.tasks import index, vouch
from catalogue.tasks.context import Context
from catalogue.tasks.evidence import lead, target, text
from tests.kits.host_plants import PLANTS
from tests.kits.plants import Plant

FILES = (
    "/families/bittern.toml", "/families/heron.toml", "/families/plover.toml", "/hosts/rack.toml", "/hosts/esrt.bin",
    "/hosts/db.esl", "/saved/CARD.TXT", "/in/SHA256SUMS", "/in/fw-12.sig", "/lists/maker.sha256",
    "/lists/list of the maker", "/lists/another page",
)  # fmt: skip
"""Files that the plants speak of and that lie nowhere in a catalogue."""


@pytest.mark.parametrize("one", PLANTS, ids=lambda one: f"{one.code}-{one.role}")
def test_no_finding_of_any_plant_leads_nowhere(one: Plant) -> None:
    scene = one.make()
    one.do(scene)
    held = {str(place): piece.sha256 for piece in scene.question().candidates for place in piece.places}
    kit = scene.judge()
    assert kit.findings
    for finding in kit.findings:
        assert finding.evidence, finding.code
        for one_of in finding.evidence:
            assert lead(one_of, finding.piece, held.get, FILES.__contains__) is not None, (finding.code, one_of)


def at(place: str, offset: int | None = None) -> Evidence:
    return Evidence(place, "it", offset, None, "", "")


@pytest.mark.parametrize(
    ("place", "leads", "what", "offset", "line"),
    [
        ("/hosts/esrt.bin, offset 16", Leads.BYTES, "/hosts/esrt.bin", 16, 0),
        ("/lists/maker.sha256 (from the maker's page):3", Leads.LINE, "/lists/maker.sha256", None, 3),
        ("/lists/maker.sha256 (from a page (old)):3", Leads.LINE, "/lists/maker.sha256", None, 3),
        ("/lists/odd (from mirror):2", Leads.LINE, "/lists/odd (from mirror)", None, 2),
        ("/lists/odd (from mirror)", Leads.BYTES, "/lists/odd (from mirror)", None, 0),
        ("beside /in/SHA256SUMS:7", Leads.LINE, "/in/SHA256SUMS", None, 7),
        ("/families/bittern.toml", Leads.LINE, "/families/bittern.toml", None, 0),
        ("pin firmware=" + "a" * 64, Leads.PERSON, "firmware", None, 0),
        ("the bench host", Leads.HOST, "the bench host", None, 0),
    ],
)
def test_where_a_place_leads(place: str, leads: Leads, what: str, offset: int | None, line: int) -> None:
    found = lead(at(place), None, {}.get, {*FILES, "/lists/odd (from mirror)"}.__contains__)
    assert found is not None
    assert (found.leads, found.what, found.offset, found.line) == (leads, what, offset, line)


@pytest.mark.parametrize("place", ["/hosts/gone.bin, offset 16", "/lists/gone (from a page):3", "release", ""])
def test_what_is_gone_leads_nowhere(place: str) -> None:
    assert lead(at(place), None, {}.get, FILES.__contains__) is None


def test_a_recorded_list_that_speaks_against_a_piece_leads_to_its_line(tmp_path) -> None:
    """On a real catalogue, by the place that the store itself gives."""
    context = Context(str(tmp_path / "c.db"))
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "fw.bin").write_bytes(b"firmware \0")
    index.run(context, [folder])
    listed = tmp_path / "maker.sha256"
    listed.write_text(f"{'0' * 64}  other.bin\n{'1' * 64}  fw.bin\n", encoding="ascii")
    vouch.record_list(context, listed, "the maker's page", "Ada")
    sha256 = hashlib.sha256(b"firmware \0").hexdigest()
    with Store.open(context.catalogue) as store:
        (against,) = evidence.facts(store, [sha256])[sha256].contradictions
    found = target(context, at(f"{against.place}:{against.line}"))
    shown = text(context, found)
    assert shown.lines[shown.wanted - shown.first].endswith("  fw.bin")
