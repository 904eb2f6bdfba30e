"""Two benches share what they recorded: handed out, shown, taken in; who said what stays beside it.

Lists are made by coreutils' sha256sum, signatures by GnuPG and minisign (Debian), as a bench would.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from catalogue.errors import BadCall
from catalogue.facts import reading
from catalogue.facts.writing import text_of
from catalogue.shapes.facts import Fact, FactsFile, ListFact, RanFact, Said, WordFact, fact_id
from catalogue.shapes.kit import Word
from catalogue.shapes.results import FactsIn, FactsOut
from catalogue.store import Store
from catalogue.tasks import facts, facts_in, facts_out, families, index, settings, vouch
from catalogue.tasks.context import Context
from tests.contracts.test_kits_outside import FAMILY, zipped
from tests.contracts.test_kits_outside import Bench as Outside
from tests.contracts.test_kits_outside import bench as outside
from tests.reference import signers
from tests.reference.signers import Gpg
from tests.store.test_evidence import FW, OTHER, Bench, md5, sha
from tests.tasks.test_record_ran import ADDRESS, Ran
from tests.tasks.test_record_ran import FW as CURLEW

__all__ = ["outside"]


@pytest.fixture
def own_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The receiving bench's own data folder, for family files that come in."""
    folder = tmp_path / "own"
    monkeypatch.setattr(settings, "user_families", lambda: folder)
    return folder


class Two:
    """Two benches with folders and catalogues of their own."""

    def __init__(self, folder: Path) -> None:
        for name in ("one", "two"):
            (folder / name).mkdir()
        self.folder = folder
        self.one, self.two = Bench(folder / "one"), Bench(folder / "two")
        self.file = folder / "facts.txt"

    def out(self, bench: Bench | None = None, file: Path | None = None, **more: object) -> FactsOut:
        of = bench or self.one
        name = "Bench one" if of is self.one else "Bench two"
        return facts_out.run(of.context, file or self.file, "Ann", name, **more)  # type: ignore[arg-type]

    def into(self, bench: Bench | None = None, **more: bool) -> FactsIn:
        return facts_in.run((bench or self.two).context, self.file, "Bo", **{"accept": True, **more})

    def look(self) -> FactsIn:
        return facts_in.run(self.two.context, self.file)


@pytest.fixture
def two(tmp_path: Path) -> Two:
    return Two(tmp_path)


def listed_by_coreutils(folder: Path) -> str:
    """GNU coreutils' own list of a folder's files."""
    program = shutil.which("sha256sum")
    if program is None:
        pytest.skip("sha256sum is not here")
    names = sorted(one.name for one in folder.iterdir())
    return subprocess.run([program, "--", *names], cwd=folder, capture_output=True, text=True, check=True).stdout


def test_what_one_bench_recorded_names_pieces_at_the_other(two: Two) -> None:
    two.one.put({"fw.bin": FW, "back\\slash.bin": OTHER})
    two.one.record(listed_by_coreutils(two.one.folder))
    two.two.put({"renamed.rom": FW})
    two.out()
    seen = two.look()
    assert (len(seen.new), seen.known, seen.against, seen.taken) == (1, 0, (), False)
    assert (seen.bench, seen.sent_by) == ("Bench one", "Ann")
    assert two.two.rungs(FW) == [], "only shown"
    assert facts.run(two.two.context) == []
    done = two.into()
    assert (done.taken, len(done.new)) == (True, 1)
    (said,) = two.two.facts(FW).vouches
    assert said.rung == "named"
    assert said.by == "the maker's page (recorded by Ann at Bench one, taken in by Bo)"
    assert said.since == facts.run(two.one.context)[0].at
    (line,) = facts.run(two.two.context)
    assert (line.by, line.bench, line.accepted_by) == ("Ann", "Bench one", "Bo")


def everything(two: Two, key: bytes) -> None:
    """A record of every kind at the first bench, but for a card that ran."""
    two.one.put({"fw.bin": FW, "other.bin": OTHER})
    two.one.record(f"{sha(FW)}  fw.bin\n{md5(OTHER)} *a/other.bin\n")
    wrong = two.one.record(f"{sha(FW)}  fw.bin\n", source="a wrong page")
    (two.folder / "k.pub").write_bytes(key)
    vouch.record_key(two.one.context, two.folder / "k.pub", "the maker's letter", "Ann")
    with Store.open(two.one.context.catalogue) as store, store.writing() as connection:
        from catalogue.store import facts as records

        said = WordFact("Cy", "2026-03-01T12:00:00+00:00", "heron", "unvouched", sha(FW), "read back\ntwice")
        records.put(connection, Fact(fact_id(said), said))
    facts.take_back(two.one.context, wrong.facts[0], "it is a copy", "Cy")


@pytest.fixture(scope="module")
def gpg() -> Iterator[Gpg]:
    with tempfile.TemporaryDirectory(prefix="kf") as folder, signers.gpg(Path(folder)) as made:
        yield made


@pytest.fixture(scope="module")
def maker(gpg: Gpg) -> str:
    return gpg.key("Corvane releases")


def test_out_in_and_out_again_are_the_same_facts(two: Two, gpg: Gpg, maker: str) -> None:
    everything(two, gpg.public(maker))
    first = two.out()
    assert first.facts == 5
    again = two.folder / "again.txt"
    assert two.out(file=again).sha256 == first.sha256
    done = two.into(words=True)
    assert (len(done.new), done.known, done.against, done.words) == (5, 0, (), ())
    back = two.folder / "back.txt"
    facts_out.run(two.two.context, back, "Ann", "Bench one")
    assert back.read_bytes() == two.file.read_bytes()
    second = two.into(words=True)
    assert (second.new, second.known, second.against) == ((), 5, ())
    facts_out.run(two.two.context, back, "Ann", "Bench one")
    assert back.read_bytes() == two.file.read_bytes(), "in twice changes nothing"


def test_a_third_bench_hears_who_said_it_first(two: Two) -> None:
    two.one.put({"fw.bin": FW})
    two.one.record(f"{sha(FW)}  fw.bin\n")
    two.out()
    two.into()
    (two.folder / "three").mkdir()
    three = Bench(two.folder / "three")
    three.put({"fw.bin": FW})
    two.out(two.two)
    assert reading.read(two.file.read_bytes()).bench == "Bench two"
    facts_in.run(three.context, two.file, "Di", accept=True)
    (said,) = three.facts(FW).vouches
    assert "recorded by Ann at Bench one, taken in by Di" in said.by


def test_words_come_in_only_when_asked_for(two: Two) -> None:
    with Store.open(two.one.context.catalogue) as store:
        store.give_word("heron", Word("unvouched", sha(FW), "read back", "Cy"))
    two.out()
    done = two.into()
    assert (done.new, len(done.words)) == ((), 1)
    with Store.open(two.two.context.catalogue) as store:
        assert store.words("heron") == ()
        two.into(words=True)
        (word,) = store.words("heron")
    assert word.by == "Cy at Bench one, taken in by Bo"
    assert word.reason == "read back"


def test_another_word_for_the_same_stays(two: Two) -> None:
    for bench, why in ((two.one, "theirs"), (two.two, "ours")):
        with Store.open(bench.context.catalogue) as store:
            store.give_word("heron", Word("unvouched", sha(FW), why, "Cy"))
    two.out()
    done = two.into(words=True)
    (against,) = done.against
    assert "ours" in against.why
    with Store.open(two.two.context.catalogue) as store:
        assert [one.reason for one in store.words("heron")] == ["ours"]


@pytest.mark.parametrize("code", ["contradicted", "no-such-rule"])
def test_a_word_for_what_no_word_clears_is_left_out(two: Two, code: str) -> None:
    said = WordFact("Cy", "2026-03-01T12:00:00+00:00", "heron", code, sha(FW), "I say so")
    written(two, said)
    done = two.into(words=True)
    assert (done.new, len(done.against)) == ((), 1)


def written(two: Two, *said: Said) -> None:
    """A facts file by hand, as a hostile bench would."""
    held = tuple(Fact(fact_id(one), one, "Bench one") for one in said)
    two.file.write_bytes(text_of(FactsFile("Bench one", "Ann", held)).encode())


def test_another_record_of_a_key_stays(two: Two, gpg: Gpg, maker: str) -> None:
    for bench, source in ((two.one, "their page"), (two.two, "our page")):
        (two.folder / "k.pub").write_bytes(gpg.public(maker))
        vouch.record_key(bench.context, two.folder / "k.pub", source, "Ann")
    two.out()
    (against,) = two.into().against
    assert "our page" in against.why
    assert len(facts.run(two.two.context)) == 1


def test_a_key_that_is_not_what_it_says(two: Two, gpg: Gpg, maker: str) -> None:
    from dataclasses import replace

    (two.folder / "k.pub").write_bytes(gpg.public(maker))
    vouch.record_key(two.one.context, two.folder / "k.pub", "a page", "Ann")
    two.out()
    (fact,) = reading.read(two.file.read_bytes()).facts
    for change in ({"fingerprint": "0" * 40}, {"holder": "Somebody"}, {"body": b"x"}, {"kind": "ed25519"}):
        written(two, replace(fact.said, **change))  # type: ignore[arg-type]
        assert len(two.into().against) == 1
    assert facts.run(two.two.context) == []


def test_what_is_recorded_here_is_not_taken_back_by_others(two: Two) -> None:
    """The same list recorded by the same person in the same second: one fact. Taking it back is for each bench."""
    said = ListFact("Ann", "2026-03-01T12:00:00+00:00", "a page", "SUMS", sha(b"l"), ())
    two.one.put({"fw.bin": FW})
    two.two.put({"fw.bin": FW})
    done = two.one.record(f"{sha(FW)}  fw.bin\n")
    two.out()
    assert two.into().taken
    facts.take_back(two.one.context, done.facts[0], "a wrong page", "Cy")
    two.out()
    more = two.into()
    assert [one.kind for one in more.new] == ["taken-back"], "it was that bench's own fact"
    assert two.two.rungs(FW) == []
    mine = two.two.record(f"{sha(FW)}  fw.bin\n", source="our own page")
    from catalogue.shapes.facts import TakenBack

    written(two, TakenBack("Eve", said.at, mine.facts[0], "because"))
    (against,) = two.into().against
    assert "take it back yourself" in against.why
    assert two.two.rungs(FW) == [("named", "sha256")]


def test_what_was_taken_back_here_stays_so(two: Two) -> None:
    two.one.put({"fw.bin": FW})
    two.two.put({"fw.bin": FW})
    done = two.one.record(f"{sha(FW)}  fw.bin\n")
    two.out()
    two.into()
    facts.take_back(two.two.context, done.facts[0], "we do not trust that page", "Bo")
    again = two.into()
    (against,) = again.against
    assert "we do not trust that page" in against.why
    assert two.two.rungs(FW) == []


def test_a_list_that_speaks_against_a_piece_here_is_told_first(two: Two) -> None:
    two.one.put({"other.bin": OTHER})
    two.one.record(f"{'0' * 64}  fw.bin\n{'1' * 32}  other.bin\n")
    two.two.put({"fw.bin": FW, "other.bin": OTHER})
    two.out()
    assert [one.have for one in two.look().speaks_against] == [sha(FW)]
    assert two.two.against(FW) == ()
    done = two.into()
    assert [one.have for one in done.speaks_against] == [sha(FW), md5(OTHER)], "by MD5 too, once those are known"
    assert len(two.two.against(FW)) == 1


# Signatures beside the file


def test_a_signature_beside_the_file_is_checked(two: Two, gpg: Gpg, maker: str) -> None:
    two.one.put({"fw.bin": FW})
    two.one.record(f"{sha(FW)}  fw.bin\n")
    two.out()
    beside = two.file.with_name("facts.txt.sig")
    beside.write_bytes(gpg.sign(two.file.read_bytes(), maker))
    assert [one.state for one in two.look().signatures] == ["no-key"]
    (two.folder / "k.pub").write_bytes(gpg.public(maker))
    vouch.record_key(two.two.context, two.folder / "k.pub", "Ann's letter", "Bo")
    (check,) = two.look().signatures
    assert (check.state, "Ann's letter" in check.source) == ("holds", True)
    beside.write_bytes(gpg.sign(b"other bytes", maker))
    done = two.into()
    assert ([one.state for one in done.signatures], done.taken) == (["broken"], False)
    assert [one.kind for one in facts.run(two.two.context)] == ["key"], "nothing was taken in"
    beside.unlink()
    assert two.into().taken


def test_by_minisign(two: Two, tmp_path: Path) -> None:
    signer = signers.Minisign(tmp_path)
    two.one.put({"fw.bin": FW})
    two.one.record(f"{sha(FW)}  fw.bin\n")
    two.out()
    data = two.file.read_bytes()
    two.file.with_name("facts.txt.minisig").write_bytes(signer.sign(data))
    (two.folder / "k.pub").write_bytes(signer.public)
    vouch.record_key(two.two.context, two.folder / "k.pub", "Ann's letter", "Bo")
    assert [one.state for one in two.look().signatures] == ["holds"]
    two.file.write_bytes(data.replace(b"the maker's page", b"the maker's Page"))
    with pytest.raises(BadCall):
        two.look()


# A family that travels, with the card that ran


def sent(ran: Ran, file: Path) -> None:
    made = ran.made
    code, done = made.call("facts-out", str(file), "--by", "Ann", "--bench", "Bench one", "--family", "corvane-curlew")
    assert (code, done["families"]) == (0, ["corvane-curlew"]), done


def test_a_family_travels_with_its_vouching(outside: Callable[..., Outside], tmp_path: Path, own_data: Path) -> None:
    """The other bench has the downloads, takes the file in, reads the family and accepts it: the kit is ready."""
    ran = Ran(outside({"fw.bin": None, "b.zip": zipped({"fw.bin": CURLEW})}))
    assert ran.say()[0] == 0
    file = tmp_path / "curlew.facts"
    sent(ran, file)
    context = Context(str(tmp_path / "other.sqlite"))
    index.run(context, [ran.made.folder / "in"])
    seen = facts_in.run(context, file)
    assert [(one.id, one.state, one.file) for one in seen.families] == [("corvane-curlew", "new", "")]
    assert sorted(one.kind for one in seen.new) == ["list", "ran"]
    assert not own_data.exists()
    done = facts_in.run(context, file, "Bo", accept=True)
    (family,) = done.families
    assert Path(family.file).read_text(encoding="utf-8") == FAMILY
    (info,) = [one for one in families.run(context) if one.id == "corvane-curlew"]
    assert not info.settled
    assert "from Bench one, sent by Ann, taken in by Bo" in info.came
    from catalogue.tasks import accept_family, kit

    assert kit.run(context, "corvane-curlew").verdict == "not-ready"
    assert accept_family.run(context, Path(family.file)).settled
    judged = kit.run(context, "corvane-curlew")
    assert judged.verdict == "ready"
    (choice,) = [one for one in judged.roles if one.role == "firmware"]
    assert choice.vouch == "ran"
    assert "recorded by Bo at Bench one, taken in by Bo" in choice.vouched_by[0].by
    assert facts_in.run(context, file, "Bo", accept=True).families[0].state == "known"


def test_another_file_of_a_family_known_here_is_left_out(
    outside: Callable[..., Outside], tmp_path: Path, own_data: Path
) -> None:
    ran = Ran(outside({"fw.bin": None, "b.zip": zipped({"fw.bin": CURLEW})}))
    file = tmp_path / "curlew.facts"
    sent(ran, file)
    own_data.mkdir()
    mine = own_data / "mine.toml"
    mine.write_text(FAMILY.replace("Curlew", "Curlew here"), encoding="utf-8")
    done = facts_in.run(Context(str(tmp_path / "other.sqlite")), file, "Bo", accept=True)
    assert [(one.state, one.file) for one in done.families] == [("differs", "")]
    assert [one.name for one in own_data.iterdir()] == ["mine.toml"]


def ran_fact(ran: Ran, file: Path) -> RanFact:
    ran.say()
    sent(ran, file)
    (said,) = [one.said for one in reading.read(file.read_bytes()).facts if isinstance(one.said, RanFact)]
    return said


FORGED: dict[str, Callable[[RanFact], dict[str, str]]] = {
    "another role's": lambda said: {"role": "keel"},
    "the listing says another mode": lambda said: {"after": said.before.replace("F234:0D80", "F234:0D99")},
    "another card's listing": lambda said: {"after": said.after.replace(ADDRESS, "5F23401000000018")},
    "another card": lambda said: {"card": "5F23401000000018"},
    "another board": lambda said: {"revision": "c"},
    "a subsystem": lambda said: {"subsystem": "f234:0001"},
    "another route": lambda said: {"route": "there"},
    "other steps": lambda said: {"steps": "0" * 64},
    "another mode": lambda said: {"mode": "raid"},
    "a version that does not show": lambda said: {"version": "12.04.0"},
    "another family file": lambda said: {"family_sha256": "0" * 64},
    "another family": lambda said: {"family": "corvane-bittern"},
}


def test_a_card_that_ran_elsewhere_is_checked_again(
    outside: Callable[..., Outside], tmp_path: Path, own_data: Path
) -> None:
    from dataclasses import replace

    ran = Ran(outside({"fw.bin": None, "b.zip": zipped({"fw.bin": CURLEW})}))
    file = tmp_path / "curlew.facts"
    said = ran_fact(ran, file)
    held = reading.read(file.read_bytes())
    for number, change in enumerate(FORGED.values()):
        forged = replace(said, **change(said))
        made = replace(held, facts=(Fact(fact_id(forged), forged, "Bench one"),))
        file.write_bytes(text_of(made).encode())
        done = facts_in.run(Context(str(tmp_path / f"{number}.sqlite")), file)
        assert (len(done.new), len(done.against)) == (0, 1), list(FORGED)[number]
    alone = FactsFile("Bench one", "Ann", (Fact(fact_id(said), said, "Bench one"),))
    file.write_bytes(text_of(alone).encode())
    (against,) = facts_in.run(Context(str(tmp_path / "x.sqlite")), file).against
    assert "not here" in against.why


# Calls


def test_calls_that_cannot_be_right(two: Two) -> None:
    with pytest.raises(BadCall, match="--bench"):
        facts_out.run(two.one.context, two.file, "Ann")
    with pytest.raises(BadCall, match="--by"):
        facts_out.run(two.one.context, two.file, " ", "One")
    with pytest.raises(BadCall, match="no folder"):
        facts_out.run(two.one.context, two.folder / "no" / "f", "Ann", "One")
    with pytest.raises(BadCall, match="card family"):
        facts_out.run(two.one.context, two.file, "Ann", "One", ["nobody"])
    two.file.write_text("a letter\n")
    with pytest.raises(BadCall, match="no facts file"):
        two.out()
    with pytest.raises(BadCall, match="line 1"):
        two.look()
    two.file.unlink()
    with pytest.raises(BadCall, match="no facts file"):
        two.look()
    two.out()
    two.out()
    with pytest.raises(BadCall, match="--by"):
        facts_in.run(two.two.context, two.file, accept=True)
    assert facts_out.run(two.one.context, two.file, "Ann").bench == "Bench one", "the bench's name is remembered"


def test_a_reason_too_long_for_the_file_is_told(two: Two) -> None:
    with Store.open(two.one.context.catalogue) as store:
        store.give_word("heron", Word("unvouched", sha(FW), "x" * 9_000, "Cy"))
    with pytest.raises(BadCall, match="longer than 8000"):
        two.out()
    assert not two.file.exists()
