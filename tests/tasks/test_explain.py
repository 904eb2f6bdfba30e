"""Why not this one, and what would make it ready, on the demo's bundles and through the command line."""

from __future__ import annotations

import json
from datetime import date

import pytest

from catalogue.cli import main
from catalogue.errors import BadCall, Stopped
from catalogue.shapes.mending import ChangeKind
from catalogue.tasks import demo, explain, index, kit
from catalogue.tasks.context import Context

FAMILY = "corvane-bittern"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The demo's catalogue, and one that holds only the withdrawn release."""
    folder = tmp_path_factory.mktemp("explain")
    context = Context(str(folder / "c.sqlite"), today=date(2026, 4, 1))
    demo.run(context, folder / "demo")
    few = Context(str(folder / "few.sqlite"), today=date(2026, 4, 1))
    index.run(few, [folder / "demo" / "downloads" / "bittern-12.02.0.zip"])
    return context, few, folder


def called(capsys, context, *words):
    code = main(["--catalogue", context.catalogue, *words])
    return code, capsys.readouterr()


def test_the_kit_object_is_the_same_asked_about_or_not(made, capsys):
    context, few, _folder = made
    for one in (context, few):
        _code, plain = called(capsys, one, "kit", FAMILY, "--json")
        other = next(other for role in json.loads(plain.out)["roles"] for other in role["others"])
        _code, asked = called(capsys, one, "kit", FAMILY, "--json", "--mend", "--why", f"firmware={other['piece']}")
        both = json.loads(asked.out)
        assert set(both) - set(json.loads(plain.out)) == {"mend", "why"}
        assert {key: value for key, value in both.items() if key not in ("mend", "why")} == json.loads(plain.out)


def test_a_piece_that_is_not_near_is_gathered_to_be_asked_and_changes_nothing(made):
    context, _few, _folder = made
    plain = kit.run(context, FAMILY)
    firmware = next(one for one in plain.roles if one.role == "firmware").pieces[0]
    done = explain.run(context, FAMILY, why=[("uefi-boot-rom", firmware)], mend=True)
    assert done.kit == plain
    assert done.why is not None and done.why[0].stands == "not-near"
    assert done.mend is not None and done.mend.proposals == ()


def test_every_other_of_the_kit_is_answered_with_its_own_codes(made):
    context, _few, _folder = made
    plain = kit.run(context, FAMILY)
    others = {(role.role, other.piece): other.why for role in plain.roles for other in role.others}
    done = explain.run(context, FAMILY, why=list(others))
    assert {(one.role, one.piece): one.why for one in done.why or ()} == others
    assert {"older", "other-mode", "withdrawn"} <= {code for why in others.values() for code in why}


def test_what_is_missing_is_named_and_the_real_bundle_is_what_was_asked_for(made):
    _context, few, folder = made
    done = explain.run(few, FAMILY, mend=True)
    assert done.kit.verdict == "not-ready" and done.mend is not None
    first = done.mend.proposals[0]
    assert {one.kind for one in first.changes} <= {ChangeKind.SUPPLY, ChangeKind.VOUCH}
    index.run(few, [folder / "demo" / "downloads" / "bittern-12.04.0 (1).zip"])
    after = kit.run(few, FAMILY)
    assert after.verdict == "ready"
    brought = {one.role: one.pieces[0] for one in after.roles if one.pieces}
    for one in first.changes:
        if one.asks("SHA-256"):
            assert brought[one.role or ""] in one.asks("SHA-256")


def test_lines_for_a_person(made, capsys):
    context, _few, folder = made
    empty = Context(str(folder / "empty.sqlite"))
    code, told = called(capsys, empty, "kit", FAMILY, "--mend")
    assert code == 1
    assert "What would make it ready; any one of these, the safest first:" in told.out
    assert "  1. Get a piece for" in told.out and "     and: Get a piece for" in told.out
    assert told.out.rstrip().splitlines()[-1].startswith("This kit is not ready")
    code, told = called(capsys, context, "kit", FAMILY, "--mend")
    assert code == 0 and "Nothing need change: the kit is ready." in told.out


def test_a_role_or_hash_that_is_not_known_is_a_wrong_call(made, capsys):
    context, _few, _folder = made
    assert called(capsys, context, "kit", FAMILY, "--why", "anchor=abcd")[0] == 2
    assert called(capsys, context, "kit", FAMILY, "--why", "firmware")[0] == 2
    assert called(capsys, context, "kit", FAMILY, "--why", "firmware=000000000000")[0] == 2
    with pytest.raises(BadCall):
        explain.run(context, FAMILY, why=[("anchor", "abcd")])


def test_a_search_ends_by_its_time_and_by_a_person(made):
    _context, _few, folder = made
    empty = Context(str(folder / "none.sqlite"))
    done = explain.run(empty, FAMILY, mend=True, seconds=0)
    assert done.mend is not None and not done.mend.all_tried

    class Impatient:
        def report(self, done: int, total: int | None, what: str) -> None:
            if what.startswith("trying"):
                raise Stopped("enough")

    with pytest.raises(Stopped):
        explain.run(empty, FAMILY, mend=True, progress=Impatient())
