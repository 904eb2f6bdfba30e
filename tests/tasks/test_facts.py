"""What people recorded is listed, and taken back with a reason; then it says nothing any more."""

from __future__ import annotations

import pytest

from catalogue.errors import BadCall
from catalogue.shapes.kit import Word
from catalogue.store import Store
from catalogue.tasks import facts
from tests.store.test_evidence import FW, OTHER, Bench, bench, sha, zipped

__all__ = ["bench"]


def take_back(bench: Bench, id_: str, reason: str = "a wrong page", by: str = "Bo") -> None:
    facts.take_back(bench.context, id_, reason, by)


def test_a_list_that_was_taken_back_names_nothing(bench: Bench) -> None:
    data = zipped({"other.bin": OTHER})
    bench.put({"fw.bin": FW, "a.zip": data})
    done = bench.record(f"{sha(FW)}  fw.bin\n{sha(data)}  a.zip\n")
    (vouch,) = bench.facts(FW).vouches
    assert vouch.since.endswith("+00:00")
    take_back(bench, done.facts[0][:12])
    assert bench.rungs(FW) == []
    assert "named" not in dict(bench.rungs(OTHER)), "what it inherited is gone too"
    (line,) = facts.run(bench.context)
    assert (line.kind, line.by, line.state) == ("list", "Ann", "taken-back")
    assert "Bo took it back" in line.why
    assert "a wrong page" in line.why


def test_what_it_spoke_against_is_free_again(bench: Bench) -> None:
    bench.put({"p/fw.bin": FW})
    done = bench.record(f"{'0' * 64}  fw.bin\n")
    assert len(bench.against(FW)) == 1
    take_back(bench, done.facts[0])
    assert bench.against(FW) == ()


def test_recorded_anew_it_stands(bench: Bench) -> None:
    """Also within the same second, where the record is word for word the one that was taken back."""
    bench.put({"fw.bin": FW})
    for _ in range(3):
        done = bench.record(f"{sha(FW)}  fw.bin\n")
        assert bench.rungs(FW) == [("named", "sha256")]
        take_back(bench, done.facts[0])
        assert bench.rungs(FW) == []


def test_another_source_for_the_same_list_stands(bench: Bench) -> None:
    bench.put({"fw.bin": FW})
    done = bench.record(f"{sha(FW)}  fw.bin\n")
    bench.record(f"{sha(FW)}  fw.bin\n", source="a second page")
    take_back(bench, done.facts[0])
    (vouch,) = bench.facts(FW).vouches
    assert "a second page" in vouch.by


def test_a_word_is_taken_back(bench: Bench) -> None:
    with Store.open(bench.context.catalogue) as store:
        store.give_word("heron", Word("unvouched", sha(FW), "asked the maker", "Ann"))
        assert len(store.words("heron")) == 1
        (line,) = facts.run(bench.context)
        take_back(bench, line.id)
        assert store.words("heron") == ()
        store.give_word("heron", Word("unvouched", sha(FW), "asked the maker", "Ann"))
        assert len(store.words("heron")) == 1


@pytest.mark.parametrize(
    ("id_", "reason", "by"),
    [("", "x", "Bo"), ("zz", "x", "Bo"), ("0000", "x", "Bo"), (None, " ", "Bo"), (None, "x", ""), ("%", "x", "Bo")],
)
def test_calls_that_cannot_be_right(bench: Bench, id_: str | None, reason: str, by: str) -> None:
    bench.put({"fw.bin": FW})
    done = bench.record(f"{sha(FW)}  fw.bin\n")
    if id_ == "0000" and done.facts[0].startswith("0000"):
        id_ = "ffff"
    with pytest.raises(BadCall):
        take_back(bench, done.facts[0] if id_ is None else id_, reason, by)
    assert bench.rungs(FW) == [("named", "sha256")]


def test_once_is_enough(bench: Bench) -> None:
    bench.put({"fw.bin": FW})
    done = bench.record(f"{sha(FW)}  fw.bin\n")
    take_back(bench, done.facts[0])
    with pytest.raises(BadCall, match="Bo took it back"):
        take_back(bench, done.facts[0])


def test_facts_of_an_older_catalogue_have_ids_too(bench: Bench) -> None:
    bench.put({"fw.bin": FW})
    done = bench.record(f"{sha(FW)}  fw.bin\n")
    with Store.open(bench.context.catalogue) as store, store.writing() as connection:
        connection.exec_driver_sql("UPDATE recorded_list SET fact=''")
    assert bench.rungs(FW) == [("named", "sha256")]
    assert [one.id for one in facts.run(bench.context)] == list(done.facts)
    take_back(bench, done.facts[0])
    assert bench.rungs(FW) == []
