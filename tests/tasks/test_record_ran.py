"""*ran*: what it takes to record it, and what a kit makes of it (judging.md, "Vouching"; `never-ran`, `unvouched`).

From outside: the command line is called and its JSON looked at.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.contracts.test_kits_outside import FAMILY, Bench, bench, firmware, sha, stops, zipped

__all__ = ["bench"]
LISTING = "Adapter\r\n  Shows as  {shows}\r\n  Quay address .... {address}\r\n"
ADDRESS = "5F23401000000010"
FW = firmware()
BY = ("--by", "Bo")


def codes(kit: dict[str, Any]) -> set[str]:
    return {one["code"] for one in kit["findings"]}


class Ran:
    """A bench whose firmware lies in a zip that nobody names, and was written by a word."""

    def __init__(self, made: Bench) -> None:
        self.made = made
        made.call("kit", "corvane-curlew", "--word", f"unvouched={sha(FW)}", "--reason", "trial card", "--by", "Ada")
        (made.folder / "medium").mkdir()
        code, done = made.call("write-out", "corvane-curlew", str(made.folder / "medium"))
        assert (code, done["read_back"]) == (0, "same")
        self.listing("before", shows="F234:0D80")
        self.listing("after", shows="F234:0D81")

    def listing(self, name: str, *, shows: str, address: str = ADDRESS, more: str = "") -> Path:
        file = self.made.folder / f"{name}.txt"
        file.write_text(LISTING.format(shows=shows, address=address) + more, encoding="ascii")
        return file

    def say(self, *words: str, card: str = ADDRESS, piece: str = sha(FW)) -> tuple[int, Any]:
        given = words or ("--before", str(self.file("before")), "--after", str(self.file("after")), *BY)
        return self.made.call("vouch", piece, "--ran", card, *given)

    def file(self, name: str) -> Path:
        return self.made.folder / f"{name}.txt"

    def no_word(self) -> None:
        _code, facts = self.made.call("facts")
        (word,) = [one for one in facts if one["kind"] == "word"]
        assert self.made.call("take-back", word["id"][:10], "--reason", "trial over", *BY)[0] == 0


@pytest.fixture
def ran(bench: Callable[..., Bench]) -> Ran:
    return Ran(bench({"fw.bin": None, "b.zip": zipped({"fw.bin": FW})}))


def test_a_card_that_compared_well_stands_in_for_the_word(ran: Ran) -> None:
    kit = ran.made.kit()
    assert {"unvouched", "never-ran"} <= codes(kit), "by a word, and never run"
    ran.no_word()
    assert ("unvouched", "firmware") in stops(ran.made.kit())
    code, done = ran.say()
    assert (code, done["entries"], done["matched"], done["refused"]) == (0, 1, 1, [])
    kit = ran.made.kit()
    assert kit["verdict"] == "ready", stops(kit)
    assert not {"unvouched", "never-ran"} & codes(kit)
    (choice,) = [one for one in kit["roles"] if one["role"] == "firmware"]
    assert choice["vouch"] == "ran"
    best = choice["vouched_by"][0]
    assert best["rung"] == "ran" and "Bo" in best["by"] and ADDRESS in best["place"] and best["since"]
    assert not any("never run" in said.lower() for said in kit["said"])


def test_taken_back_it_says_nothing(ran: Ran) -> None:
    ran.no_word()
    _code, done = ran.say()
    assert ran.made.kit()["verdict"] == "ready"
    assert ran.made.call("take-back", done["facts"][0], "--reason", "another card's text", *BY)[0] == 0
    kit = ran.made.kit()
    assert ("unvouched", "firmware") in stops(kit)
    assert "never-ran" in codes(kit)


def test_the_same_card_speaks_for_the_other_pieces_of_its_kit(ran: Ran) -> None:
    assert ran.say("--by", "Bo")[0] == 2, "no after-check of it is recorded"
    ran.say()
    kit = ran.made.kit()
    (rom,) = [one for one in kit["roles"] if one["role"] == "uefi-boot-rom"]
    code, done = ran.say("--by", "Bo", piece=rom["pieces"][0], card="5f234010-00000010")
    assert (code, done["matched"]) == (0, 1)
    (rom,) = [one for one in ran.made.kit()["roles"] if one["role"] == "uefi-boot-rom"]
    assert [one["rung"] for one in rom["vouched_by"]][:2] == ["named", "ran"]


@pytest.mark.parametrize(
    "how",
    [{"shows": "F234:0D80"}, {"shows": "F234:0D81", "address": "5F23401000000018"}, {"shows": "F234:0D99"},
     {"shows": "F234:0D81", "more": "Firmware: CVFW 11.00.0\r\n"}],
    ids=["not converted", "another card", "an unknown mode", "another version"],
)  # fmt: skip
def test_listings_that_do_not_compare_well_are_refused(ran: Ran, how: dict[str, str]) -> None:
    ran.no_word()
    ran.listing("after", **how)
    code, done = ran.say()
    assert (code, done["entries"], len(done["facts"])) == (1, 0, 0)
    assert done["refused"]
    kit = ran.made.kit()
    assert ("unvouched", "firmware") in stops(kit)
    assert "never-ran" in codes(kit)


def test_the_version_that_shows_is_compared(ran: Ran) -> None:
    ran.listing("after", shows="F234:0D81", more="Firmware: CVFW 0C040000\r\n")
    assert ran.say()[0] == 0, "the same version in its packed form"


def test_calls_that_cannot_be_right(ran: Ran) -> None:
    before, after = str(ran.file("before")), str(ran.file("after"))
    assert ran.say("--before", before, "--after", after)[0] == 2, "nobody answers for it"
    assert ran.say("--before", before, *BY)[0] == 2
    assert ran.say("--before", before, "--after", after, *BY, piece=sha(b"not here"))[0] == 2
    assert ran.say("--before", before, "--after", str(ran.made.folder / "none.txt"), *BY)[0] == 2
    assert ran.say("--before", before, "--after", after, *BY, "--kit", "abcd")[0] == 2
    assert ran.say(card=" - ")[0] == 2
    assert ran.made.call("vouch", "--ran", ADDRESS, *BY)[0] == 2
    assert ran.made.call("vouch", sha(FW), "--list", str(ran.file("before")), "--source", "x")[0] == 2
    long = ran.listing("after", shows="F234:0D81", more="x" * (257 << 10))
    assert ran.say("--before", before, "--after", str(long), *BY)[0] == 2


def test_no_kit_was_written_with_it(bench: Callable[..., Bench]) -> None:
    made = bench()
    file = made.folder / "x.txt"
    file.write_text("x", encoding="ascii")
    code, _said = made.call("vouch", sha(FW), "--ran", ADDRESS, "--before", str(file), "--after", str(file), *BY)
    assert code == 2


def test_an_edited_family_is_not_the_one_the_card_ran_by(ran: Ran) -> None:
    family = ran.made.folder / "families" / "curlew.toml"
    family.write_text(FAMILY.replace('say = "Load."', 'say = "Load all."'), encoding="utf-8")
    ran.made.call("accept-family", str(family))
    code, done = ran.say()
    assert code == 1
    assert "judged by" in done["refused"][0]


BOARD = FAMILY.replace(
    "flash = 8_388_608", 'flash = 8_388_608\nrevision = { find = "Board ~ {value}", allowed = ["C", "D"] }'
)


def test_it_counts_for_that_board_alone(bench: Callable[..., Bench]) -> None:
    """ "For this role, mode and board only": a kit that is told of no board, or of another, asks for more."""
    one = Ran(bench({"fw.bin": None, "b.zip": zipped({"fw.bin": FW})}, BOARD))
    one.listing("before", shows="F234:0D80", more="  Board ... C\r\n")
    one.listing("after", shows="F234:0D81", more="  Board ... C\r\n")
    assert one.say()[0] == 0
    one.no_word()
    waits = ("unvouched", "firmware")
    assert waits in stops(one.made.kit()), "told of no card"
    other = one.listing("other", shows="F234:0D80", address="5F23401000000020", more="  Board ... D\r\n")
    assert waits in stops(one.made.kit("--identity", str(other)))
    same = one.listing("same", shows="F234:0D80", address="5F23401000000020", more="  Board ... c\r\n")
    assert one.made.kit("--identity", str(same))["verdict"] == "ready"
    assert waits in stops(one.made.kit("--identity", str(same), "--identity", str(other)))


def test_it_counts_for_that_route_and_mode_alone(ran: Ran) -> None:
    ran.no_word()
    ran.say()
    back = FAMILY + FAMILY[FAMILY.index("[[route]]\n") :].replace("raid-to-pass-dos", "other").replace(
        'type = "{writer} lay ', 'type = "{writer} put '
    )
    family = ran.made.folder / "families" / "curlew.toml"
    family.write_text(back, encoding="utf-8")
    assert ran.made.call("accept-family", str(family))[0] == 0
    assert "never-ran" not in codes(ran.made.kit())
    kit = ran.made.kit("--route", "other")
    assert "never-ran" in codes(kit)
    assert kit["verdict"] == "ready", "the bytes ran in this role, mode and board, whatever the steps"
