"""What speaks for a piece and against it: lists, archives, what a person recorded."""

from __future__ import annotations

import hashlib
import io
import os
import time
import zipfile
from collections.abc import Mapping
from pathlib import Path

import pytest

from catalogue.shapes.piece import Contradiction, PieceFacts
from catalogue.store import Store, evidence, names
from catalogue.tasks import index, vouch
from catalogue.tasks.context import Context

FW = b"firmware \0" + bytes(range(256)) * 8
OTHER = b"another \0" + bytes(range(256)) * 9


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def md5(data: bytes) -> str:
    return hashlib.md5(data).hexdigest()


def zipped(members: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in members.items():
            made.writestr(name, data)
    return out.getvalue()


class Bench:
    """A catalogue and a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "in"
        self.folder.mkdir()
        self.beside = folder
        self.context = Context(str(folder / "catalogue.sqlite"))

    def put(self, files: Mapping[str, bytes | str]) -> None:
        for name, data in files.items():
            path = self.folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data.encode() if isinstance(data, str) else data)
        index.run(self.context, [self.folder])

    def facts(self, data: bytes) -> PieceFacts:
        with Store.open(self.context.catalogue) as store:
            return evidence.facts(store, [sha(data)])[sha(data)]

    def rungs(self, data: bytes) -> list[tuple[str, str]]:
        return [(one.rung, one.algorithm) for one in self.facts(data).vouches]

    def against(self, data: bytes) -> tuple[Contradiction, ...]:
        return self.facts(data).contradictions

    def record(
        self, text: str, source: str = "the maker's page", by: str = "Ann", name: str = "list.txt"
    ) -> vouch.Vouched:
        (self.beside / name).write_text(text)
        return vouch.record_list(self.context, self.beside / name, source, by)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_nothing_is_known(bench: Bench) -> None:
    bench.put({"fw.bin": FW})
    facts = bench.facts(FW)
    assert (facts.vouches, facts.contradictions, facts.member_faults) == ((), (), ())
    assert [place.path for place in facts.places] == [str(bench.folder / "fw.bin")]
    with Store.open(bench.context.catalogue) as store:
        assert evidence.facts(store, ["00" * 32]) == {}


SPELLINGS = {
    "plain": "{0}  fw.bin\n",
    "binary mark": "{0} *fw.bin\n",
    "upper-case digest": "{1}  fw.bin\n",
    "upper-case name": "{0}  FW.BIN\n",
    "dot and slash": "{0}  ./fw.bin\n",
    "CR LF": "{0}  fw.bin\r\n",
    "BSD": "SHA256 (fw.bin) = {0}\n",
    "OpenSSL": "SHA256(fw.bin)= {0}\n",
}


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_neighbour_in_every_spelling(bench: Bench, spelling: str) -> None:
    digest = sha(FW)
    bench.put({"fw.bin": FW, "SHA256SUMS": SPELLINGS[spelling].format(digest, digest.upper())})
    assert bench.rungs(FW) == [("neighbour", "sha256")]
    assert bench.against(FW) == ()


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_contradicted_in_every_spelling(bench: Bench, spelling: str) -> None:
    digest = sha(OTHER)
    bench.put({"fw.bin": FW, "SHA256SUMS": SPELLINGS[spelling].format(digest, digest.upper())})
    (said,) = bench.against(FW)
    assert (said.line, said.algorithm, said.want, said.have) == (1, "sha256", digest, sha(FW))
    assert said.place == str(bench.folder / "SHA256SUMS")
    assert bench.rungs(FW) == []


@pytest.mark.parametrize("algorithm", ["md5", "sha1", "sha224", "sha384", "sha512"])
def test_other_digests_only_where_a_list_needs_them(bench: Bench, algorithm: str) -> None:
    digest = hashlib.new(algorithm, FW).hexdigest()
    bench.put({"fw.bin": FW, "other.bin": OTHER, f"{algorithm}sums.txt": f"{digest}  fw.bin\n"})
    assert bench.rungs(FW) == [("neighbour", algorithm)]
    with Store.open(bench.context.catalogue) as store, store.reading() as connection:
        rows = connection.exec_driver_sql("SELECT algorithm, value FROM digest").fetchall()
    assert [tuple(row) for row in rows] == [(algorithm, bytes.fromhex(digest))]


def test_the_list_may_come_later(bench: Bench) -> None:
    bench.put({"fw.bin": FW})
    bench.put({"MD5SUMS": f"{md5(FW)}  fw.bin\n"})
    assert bench.rungs(FW) == [("neighbour", "md5")]
    bench.put({"MD5SUMS": f"{md5(OTHER)}  fw.bin\n"})
    assert len(bench.against(FW)) == 1


def test_lists_speak_for_folders_below(bench: Bench) -> None:
    listed = f"{sha(FW)}  rom/fw.bin\n{md5(OTHER)}  ROM\\Other.bin\n"
    bench.put({"rom/fw.bin": FW, "rom/other.bin": OTHER, "SUMS": listed})
    assert bench.rungs(FW) == [("neighbour", "sha256")]
    assert bench.rungs(OTHER) == [("neighbour", "md5")]


@pytest.mark.parametrize("name", ["../fw.bin", "/fw.bin", "C:\\fw.bin", "sub/fw.bin", "fw.bin.old", "fw"])
def test_other_paths_say_nothing(bench: Bench, name: str) -> None:
    bench.put({"fw.bin": FW, "a/SUMS": f"{sha(OTHER)}  {name}\n", "a/x": b"x\0"})
    assert bench.against(FW) == ()


def test_the_same_name_in_another_bundle_is_not_contradicted(bench: Bench) -> None:
    bench.put(
        {
            "old/fw.bin": FW,
            "new/fw.bin": OTHER,
            "new/SUMS": f"{sha(OTHER)}  fw.bin\n",
            "a.zip": zipped({"fw.bin": FW}),
        }
    )
    assert bench.against(FW) == bench.against(OTHER) == ()
    assert bench.rungs(OTHER) == [("neighbour", "sha256")]


def test_case_decides_where_both_names_are_there(bench: Bench) -> None:
    bench.put({"fw.bin": FW, "FW.BIN": OTHER, "SUMS": f"{sha(FW)}  fw.bin\n"})
    assert bench.rungs(FW) == [("neighbour", "sha256")]
    assert bench.against(OTHER) == ()
    bench.put({"SUMS": f"{sha(FW)}  Fw.Bin\n"})
    assert bench.against(OTHER) == ()
    assert bench.rungs(FW) == []


def test_a_folder_of_another_case_is_another_bundle(bench: Bench) -> None:
    bench.put({"a/fw.bin": FW, "A/SUMS": f"{sha(OTHER)}  fw.bin\n{sha(FW)}  fw.bin\n", "A/x": b"x\0"})
    assert (bench.against(FW), bench.rungs(FW)) == ((), [])


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("a", ("a",)),
        ("./a//b", ("a", "b")),
        (".\\a\\b", ("a", "b")),
        ("..", None),
        ("a/../b", None),
        ("/a", None),
        ("\\a", None),
        ("c:a", None),
        ("C:\\a", None),
        ("", None),
        (".", None),
        ("a..b", ("a..b",)),
    ],
)
def test_parts_of_listed_names(name: str, parts: tuple[str, ...] | None) -> None:
    assert names.listed_parts(name) == parts


def test_bare_digest(bench: Bench) -> None:
    bench.put({"fw.bin": FW, "fw.bin.sha256": sha(FW) + "\n", "other.bin": OTHER, "other.bin.sha256": sha(FW) + "\n"})
    assert bench.rungs(FW) == [("neighbour", "sha256")]
    assert [one.have for one in bench.against(OTHER)] == [sha(OTHER)]


def test_a_list_that_has_both_is_kept(bench: Bench) -> None:
    bench.put({"fw.bin": FW, "SUMS": f"{sha(OTHER)}  fw.bin\n{sha(FW)}  fw.bin\n{md5(FW)}  fw.bin\n"})
    assert bench.against(FW) == ()
    assert bench.rungs(FW) == [("neighbour", "md5"), ("neighbour", "sha256")]


def test_inside_an_archive(bench: Bench) -> None:
    sums = f"{sha(FW)}  rom/fw.bin\n{md5(FW)}  rom\\other.bin\n".encode()
    bench.put({"a.zip": zipped({"p/SUMS": sums, "p/rom/fw.bin": FW, "p/rom/other.bin": OTHER, "rom/fw.bin": b"x\0"})})
    assert bench.rungs(FW) == [("neighbour", "sha256"), ("neighbour", "crc32")]
    (said,) = bench.against(OTHER)
    assert said.place == f"{bench.folder / 'a.zip'} › p/SUMS"
    assert said.have == md5(OTHER)
    assert bench.against(b"x\0") == ()


def test_what_lies_in_a_contradicted_archive_only(bench: Bench) -> None:
    bad = zipped({"fw.bin": FW, "shared.bin": OTHER})
    bench.put({"bad.zip": bad, "SUMS": f"{'0' * 64}  bad.zip\n", "elsewhere/shared.bin": OTHER})
    assert len(bench.against(bad)) == 1
    assert [one.name for one in bench.against(FW)] == ["bad.zip"]
    assert bench.against(OTHER) == (), "it lies elsewhere too"


# Agreed


def agreed(bench: Bench, data: bytes) -> bool:
    return any(one.rung == "agreed" for one in bench.facts(data).vouches)


def test_two_unrelated_archives(bench: Bench) -> None:
    bench.put({"a.zip": zipped({"fw.bin": FW, "a.txt": b"a\n"}), "b.zip": zipped({"x/FW.ROM": FW, "b.txt": b"b\n"})})
    assert agreed(bench, FW)
    assert not agreed(bench, b"a\n")


def test_one_archive_in_two_places(bench: Bench) -> None:
    data = zipped({"fw.bin": FW, "a.txt": b"a\n"})
    bench.put({"a.zip": data, "copy/b.zip": data})
    assert not agreed(bench, FW)


def test_packed_again(bench: Bench) -> None:
    bench.put({"a.zip": zipped({"fw.bin": FW, "a.txt": b"a\n"}), "b.zip": zipped({"n/a.txt": b"a\n", "n/fw.bin": FW})})
    assert not agreed(bench, FW)


def test_packed_again_with_more(bench: Bench) -> None:
    bench.put(
        {
            "a.zip": zipped({"fw.bin": FW, "a.txt": b"a\n"}),
            "b.zip": zipped({"a.txt": b"a\n", "fw.bin": FW, "c": b"c\n"}),
        }
    )
    assert not agreed(bench, FW)


def test_one_inside_the_other(bench: Bench) -> None:
    inner = zipped({"fw.bin": FW, "a.txt": b"a\n"})
    bench.put({"a.zip": inner, "b.zip": zipped({"a.zip": inner, "b.txt": b"b\n"})})
    assert not agreed(bench, FW)


def test_two_packers_took_the_same_archive(bench: Bench) -> None:
    """Both go back to one download: what was flipped in that is flipped in both."""
    inner = zipped({"fw.bin": FW, "a.txt": b"a\n"})
    bench.put({"b.zip": zipped({"a.zip": inner, "b": b"b\n"}), "c.zip": zipped({"a.zip": inner, "c": b"c\n"})})
    assert not agreed(bench, FW)
    assert not agreed(bench, inner)


def test_packed_again_with_another_note(bench: Bench) -> None:
    bench.put(
        {
            "a.zip": zipped({"fw.bin": FW, "t.exe": OTHER, "readme": b"1\n"}),
            "b.zip": zipped({"fw.bin": FW, "t.exe": OTHER, "notes": b"2\n"}),
        }
    )
    assert not agreed(bench, FW)


def test_one_packer_of_both(bench: Bench) -> None:
    """Two archives out of a third, also where they lie loose as well."""
    a, b = zipped({"fw.bin": FW, "a.txt": b"a\n"}), zipped({"fw.bin": FW, "b.txt": b"b\n"})
    bench.put({"a.zip": a, "b.zip": b})
    assert agreed(bench, FW)
    bench.put({"both.zip": zipped({"a.zip": a, "b.zip": b, "c.txt": b"c\n"})})
    assert not agreed(bench, FW)


def test_from_one_recorded_source(bench: Bench) -> None:
    a, b = zipped({"fw.bin": FW, "a.txt": b"a\n"}), zipped({"fw.bin": FW, "b.txt": b"b\n"})
    bench.put({"a.zip": a, "b.zip": b})
    bench.record(f"{sha(a)}  a.zip\n")
    assert agreed(bench, FW)
    bench.record(f"{sha(b)}  b.zip\n", name="other.txt")
    assert not agreed(bench, FW)


def test_a_damaged_entry_agrees_with_nobody(bench: Bench) -> None:
    broken = bytearray(zipped({"a.txt": b"a\n", "fw.bin": FW}))
    at = broken.rindex(b"PK\1\2") + 16
    broken[at] ^= 1
    bench.put({"a.zip": bytes(broken), "b.zip": zipped({"fw.bin": FW, "b.txt": b"b\n"})})
    assert not agreed(bench, FW)


def test_damage_beside_a_piece_is_known_and_is_not_its_own(bench: Bench) -> None:
    broken = bytearray(zipped({"a.txt": b"a\n", "fw.bin": FW}))
    at = broken.rindex(b"PK\1\2") + 16  # the CRC of fw.bin in the directory
    broken[at] ^= 1
    bench.put({"a.zip": bytes(broken)})
    (beside,) = bench.facts(b"a\n").beside_faults
    assert beside.code == "archive-damaged" and beside.text.startswith("fw.bin: ")
    assert bench.facts(b"a\n").member_faults == ()
    own = bench.facts(FW)
    assert own.member_faults and own.beside_faults == ()


def test_nothing_agrees_about_nothing(bench: Bench) -> None:
    bench.put({"a.zip": zipped({"e": b"", "a.txt": b"a\n"}), "b.zip": zipped({"e": b"", "b.txt": b"b\n"})})
    assert not agreed(bench, b"")


def test_loose_copies_agree_about_nothing(bench: Bench) -> None:
    bench.put({"a/fw.bin": FW, "b/fw.bin": FW, "a.zip": zipped({"fw.bin": FW, "x": b"x\0"})})
    assert not agreed(bench, FW)


# Named


def test_named_by_a_recorded_list(bench: Bench) -> None:
    bench.put({"whatever.rom": FW})
    done = bench.record(f"{sha(FW)}  fw.bin\n{sha(OTHER)}  other.bin\n")
    assert (done.entries, done.matched, done.contradicted) == (2, 1, ())
    (said,) = bench.facts(FW).vouches
    assert (said.rung, said.algorithm) == ("named", "sha256")
    assert "the maker's page" in said.by
    assert "Ann" in said.by
    assert said.place.endswith("list.txt, line 1")


def test_named_by_a_weak_digest(bench: Bench) -> None:
    bench.put({"fw.bin": FW, "sub/other.bin": OTHER})
    done = bench.record(f"{md5(FW)}  fw.bin\n{hashlib.sha1(OTHER).hexdigest()}  other.bin\n")
    assert done.matched == 2
    assert bench.rungs(FW) == [("named", "md5")]
    assert bench.rungs(OTHER) == [("named", "sha1")]


def test_named_when_it_comes_later(bench: Bench) -> None:
    bench.put({"x": b"x\0"})
    bench.record(f"{md5(FW)}  fw.bin\n{sha(OTHER)}  other.bin\n")
    bench.put({"fw.bin": FW, "a.zip": zipped({"other.bin": OTHER})})
    assert bench.rungs(FW) == [("named", "md5")]
    assert bench.rungs(OTHER)[0] == ("named", "sha256")


def test_members_inherit(bench: Bench) -> None:
    inner = zipped({"fw.bin": FW})
    outer = zipped({"inner.zip": inner, "x": b"x\0"})
    bench.put({"outer.zip": outer})
    bench.record(f"{sha(outer)}  outer.zip\n")
    assert bench.rungs(FW) == [("named", "sha256"), ("neighbour", "crc32")]
    assert bench.rungs(b"x\0")[0] == ("named", "sha256")


def test_recorded_again_counts_once(bench: Bench) -> None:
    bench.put({"fw.bin": FW})
    for _ in range(3):
        bench.record(f"{sha(FW)}  fw.bin\n")
    assert len(bench.facts(FW).vouches) == 1
    bench.record(f"{sha(FW)}  fw.bin\n", source="a second page")
    assert len(bench.facts(FW).vouches) == 2


def test_recorded_list_speaks_against(bench: Bench) -> None:
    bench.put({"p/fw.bin": FW, "q/other.bin": OTHER})
    done = bench.record(f"{'0' * 64}  fw.bin\n{'1' * 32}  OTHER.BIN\n")
    assert [(one.name, one.want, one.have) for one in done.contradicted] == [
        ("fw.bin", "0" * 64, sha(FW)),
        ("OTHER.BIN", "1" * 32, md5(OTHER)),
    ]
    assert done.contradicted[0].place == str(bench.folder / "p/fw.bin")
    assert len(bench.against(FW)) == len(bench.against(OTHER)) == 1


def test_recorded_list_of_another_release(bench: Bench) -> None:
    """The content it means is here too, or the piece is named by its own list: another file of the same name."""
    bench.put({"new/fw.bin": OTHER, "old/fw.bin": FW})
    done = bench.record(f"{sha(OTHER)}  fw.bin\n")
    assert (done.matched, done.contradicted) == (1, ())
    assert bench.against(FW) == ()
    (bench.folder / "new/fw.bin").unlink()
    bench.record(f"{sha(FW)}  fw.bin\n", name="old.txt")
    bench.put({})
    assert bench.against(FW) == ()


def test_recorded_path_must_fit_whole(bench: Bench) -> None:
    bench.put({"p/fw.bin": FW})
    assert bench.record(f"{'0' * 64}  q/fw.bin\n").contradicted == ()
    assert len(bench.record(f"{'0' * 64}  P\\FW.BIN\n").contradicted) == 1


# Beside, and how long it takes


def test_beside(bench: Bench) -> None:
    bench.put(
        {"d/FW.bin": FW, "d/Tool.EXE": OTHER, "else.txt": b"no\n", "a.zip": zipped({"x/one": FW, "y/Two": b"2\0"})}
    )
    assert {one.name for one in bench.facts(OTHER).beside} == {"fw.bin", "tool.exe"}
    assert {(one.name, one.sha256) for one in bench.facts(FW).beside} == {
        ("fw.bin", sha(FW)),
        ("tool.exe", sha(OTHER)),
        ("one", sha(FW)),
        ("two", sha(b"2\0")),
    }


def test_best_first(bench: Bench) -> None:
    bench.put(
        {
            "fw.bin": FW,
            "SUMS": f"{sha(FW)}  fw.bin\n",
            "a.zip": zipped({"fw.bin": FW, "a": b"a\n"}),
            "b.zip": zipped({"fw.bin": FW, "b": b"b\n"}),
        }
    )
    bench.record(f"{sha(FW)}  fw.bin\n")
    assert [rung for rung, _ in bench.rungs(FW)] == ["named", "agreed", *["neighbour"] * 3]


def test_a_thousand_pieces_are_quick(bench: Bench) -> None:
    """Not a benchmark: a thousand pieces in one folder, each listed, must not cost a million steps."""
    bodies = [b"%d \0" % number + os.urandom(20) for number in range(1000)]
    listed = "".join(f"{sha(body)}  {number}.bin\n" for number, body in enumerate(bodies))
    bench.put({**{f"{number}.bin": body for number, body in enumerate(bodies)}, "SUMS": listed})
    with Store.open(bench.context.catalogue) as store:
        begun = time.process_time()
        facts = evidence.facts(store, [sha(body) for body in bodies])
        took = time.process_time() - begun
    assert all(one.vouches[0].rung == "neighbour" for one in facts.values())
    assert took < 3


@pytest.mark.parametrize("name", ["b2sums", "B2SUMS.txt", "fw.blake2b", "fw.bin.b2"])
def test_a_list_of_blake2_says_nothing(bench: Bench, name: str) -> None:
    """BLAKE2b (RFC 7693; Python's hashlib): a line of b2sum looks like one of SHA-512, and contradicts nothing."""
    line = f"{hashlib.blake2b(FW).hexdigest()}  fw.bin\n"
    bench.put({"fw.bin": FW, name: line})
    assert bench.against(FW) == ()
    assert bench.rungs(FW) == []


def test_the_same_line_in_a_list_of_sha512_is_contradicted(bench: Bench) -> None:
    bench.put({"fw.bin": FW, "SHA512SUMS": f"{hashlib.blake2b(FW).hexdigest()}  fw.bin\n"})
    assert [one.algorithm for one in bench.against(FW)] == ["sha512"]
