"""Keys that a person recorded, through the command line: what they make of pieces, lists and kits.

GnuPG and minisign sign; nothing here makes a signature of its own. What must never happen is that a piece counts as
named whose bytes no recorded key signed.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from catalogue.cli import main
from catalogue.formats.signing_keys import MAX_KEY_BYTES
from catalogue.intake import fetch
from catalogue.shapes.finding import Level
from catalogue.store import signed
from sample_bundles import bittern
from tests.reference import signers
from tests.reference.demo_bench import Bench, Bundle, codes, stops
from tests.reference.signers import Gpg, Minisign

FW = b"firmware \0" + bytes(range(256)) * 8
OTHER = b"firmware \1" + bytes(range(256)) * 8


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def zipped(members: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in members.items():
            made.writestr(name, data)
    return out.getvalue()


@pytest.fixture(scope="module")
def gpg() -> Iterator[Gpg]:
    with tempfile.TemporaryDirectory(prefix="kg") as folder, signers.gpg(Path(folder)) as made:
        yield made


@dataclass
class Maker:
    """A maker with one key."""

    gpg: Gpg
    fingerprint: str

    @property
    def public(self) -> bytes:
        return self.gpg.public(self.fingerprint)

    def sign(self, data: bytes, *more: str) -> bytes:
        return self.gpg.sign(data, self.fingerprint, *more)

    def clear(self, text: str) -> bytes:
        return self.gpg.clear(text.encode(), self.fingerprint)


@pytest.fixture(scope="module")
def maker(gpg: Gpg) -> Maker:
    return Maker(gpg, gpg.key("Corvane releases"))


class Desk:
    """A catalogue, an intake folder, and the command line."""

    def __init__(self, folder: Path, said: Callable[[], str]) -> None:
        self.folder = folder
        self.intake = folder / "in"
        self.intake.mkdir()
        self._said = said

    def call(self, *words: str | os.PathLike[str]) -> tuple[int, Any]:
        code = main(["--catalogue", str(self.folder / "c.sqlite"), *map(os.fspath, words), "--json"])
        out = self._said()
        return code, json.loads(out) if out.strip() else None

    def put(self, files: Mapping[str, bytes | str]) -> None:
        for name, data in files.items():
            path = self.intake / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data.encode() if isinstance(data, str) else data)
        assert self.call("index", self.intake)[0] == 0

    def record(self, key: bytes, source: str = "the maker's page, 3 March") -> tuple[int, Any]:
        file = self.folder / "key.pub"
        file.write_bytes(key)
        return self.call("vouch", "--key", file, "--source", source, "--by", "Ann")

    def show(self, data: bytes) -> Any:
        return self.call("show", sha(data))[1]

    def rungs(self, data: bytes) -> list[str]:
        return sorted({one["rung"] for one in self.show(data)["vouch"]})

    def states(self, data: bytes) -> list[str]:
        return [one["state"] for one in self.show(data)["signatures"]]


@pytest.fixture
def desk(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Desk:
    return Desk(tmp_path, lambda: capsys.readouterr().out)


def listed(*pairs: tuple[bytes, str]) -> str:
    return "".join(f"{sha(data)}  {name}\n" for data, name in pairs)


# --- signatures beside a file -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("ending", [".asc", ".sig", ".gpg", ".sign", ".SIG"])
def test_a_signature_beside_a_file_names_it(desk: Desk, maker: Maker, ending: str):
    desk.put({"fw.bin": FW, f"fw.bin{ending}": maker.sign(FW, *(["--armor"] if ending == ".asc" else []))})
    assert (desk.rungs(FW), desk.states(FW)) == ([], ["no-key"])
    code, done = desk.record(maker.public)
    assert code == 0
    assert (done["entries"], done["matched"], done["contradicted"], done["unproved"]) == (1, 1, [], [])
    (key,) = done["keys"]
    assert (key["kind"], key["fingerprint"], key["expires"], key["revoked"]) == (
        "openpgp", maker.fingerprint, None, False,
    )  # fmt: skip
    shown = desk.show(FW)
    assert desk.rungs(FW) == ["named"]
    assert "the maker's page, 3 March (recorded by Ann)" in shown["vouch"][0]["by"]
    (check,) = shown["signatures"]
    assert (check["state"], check["place"]) == ("holds", str(desk.intake / f"fw.bin{ending}"))


def test_minisign(desk: Desk, tmp_path: Path):
    folder = tmp_path / "m"
    folder.mkdir()
    program = Minisign(folder)
    desk.put(
        {"fw.bin": FW, "fw.bin.minisig": program.sign(FW), "o.bin": OTHER, "o.bin.minisig": program.sign(FW, "-l")}
    )
    code, done = desk.record(program.public)
    assert (code, done["matched"], len(done["contradicted"])) == (1, 1, 1)
    assert (desk.rungs(FW), desk.states(FW)) == (["named"], ["holds"])
    assert (desk.rungs(OTHER), desk.states(OTHER)) == ([], ["broken"])


def test_what_is_indexed_later_is_asked_too(desk: Desk, maker: Maker):
    assert desk.record(maker.public)[1]["matched"] == 0
    desk.put({"a/fw.bin": FW, "a/fw.bin.sig": maker.sign(FW)})
    assert desk.rungs(FW) == ["named"]
    desk.put({"b/o.bin": OTHER})
    assert desk.states(OTHER) == []
    desk.put({"b/o.bin.sig": maker.sign(FW)})
    assert desk.states(OTHER) == ["broken"]


def test_inside_an_archive(desk: Desk, maker: Maker):
    desk.record(maker.public)
    members = {"x/fw.bin": FW, "x/fw.bin.sig": maker.sign(FW), "o.bin": OTHER, "x/o.bin.sig": maker.sign(OTHER)}
    desk.put({"a.zip": zipped(members)})
    assert "named" in desk.rungs(FW)
    assert "named" not in desk.rungs(OTHER)  # its signature lies in another folder of the archive
    assert desk.states(OTHER) == []


def test_a_signed_archive_names_its_members(desk: Desk, maker: Maker):
    archive = zipped({"fw.bin": FW})
    desk.put({"a.zip": archive, "a.zip.sig": maker.sign(archive)})
    desk.record(maker.public)
    assert desk.rungs(archive) == ["named"]
    assert "named" in desk.rungs(FW)


def test_names_that_differ_only_in_case(desk: Desk, maker: Maker):
    desk.record(maker.public)
    desk.put({"a/FW.BIN": FW, "a/fw.bin.sig": maker.sign(FW), "b/O.BIN": OTHER, "b/o.bin": b"x", "b/O.bin.sig": b"y"})
    assert desk.rungs(FW) == ["named"]


# --- what must not vouch ----------------------------------------------------------------------------------------------


def test_a_signature_copied_beside_other_bytes(desk: Desk, maker: Maker):
    signature = maker.sign(FW)
    desk.put({"a/fw.bin": FW, "a/fw.bin.sig": signature, "b/fw.bin": OTHER, "b/fw.bin.sig": signature})
    code, done = desk.record(maker.public)
    assert (code, done["matched"]) == (1, 1)
    assert [one["place"] for one in done["contradicted"]] == [str(desk.intake / "b" / "fw.bin")]
    assert (desk.rungs(OTHER), desk.states(OTHER)) == ([], ["broken"])
    assert desk.rungs(FW) == ["named"]
    (check,) = desk.show(OTHER)["signatures"]
    assert check["place"] == str(desk.intake / "b" / "fw.bin.sig")


def test_show_says_it_in_words(desk: Desk, maker: Maker, gpg: Gpg, capsys: pytest.CaptureFixture[str]):
    stranger = Maker(gpg, gpg.key("Stranger three"))
    signature = maker.sign(FW)
    desk.put({"fw.bin": FW, "fw.bin.sig": signature, "fw.bin.asc": maker.sign(FW, "--digest-algo", "SHA1")})
    desk.put({"o.bin": OTHER, "o.bin.sig": signature, "o.bin.asc": stranger.sign(OTHER)})
    desk.record(maker.public)
    for data, said in ((FW, ("holds", "is not relied on")), (OTHER, ("is not of these bytes", "was not checked"))):
        main(["--catalogue", str(desk.folder / "c.sqlite"), "show", sha(data)])
        out = capsys.readouterr().out
        for words in said:
            assert re.search(rf"^signature {re.escape(str(desk.intake))}/\w+\.bin\.(sig|asc) {words}, by ", out, re.M)


def test_a_broken_signature_speaks_only_while_it_lies_there(desk: Desk, maker: Maker):
    desk.put({"fw.bin": FW, "fw.bin.sig": maker.sign(OTHER)})
    desk.record(maker.public)
    assert desk.states(FW) == ["broken"]
    (desk.intake / "fw.bin.sig").rename(desk.intake / "elsewhere.sig")
    desk.call("index", desk.intake)
    assert desk.states(FW) == []


def test_bytes_that_a_key_signed_are_proved_whatever_lies_beside_their_copy(desk: Desk, maker: Maker):
    desk.put({"a/fw.bin": FW, "a/fw.bin.sig": maker.sign(FW), "b/fw.bin": FW, "b/fw.bin.sig": maker.sign(OTHER)})
    desk.record(maker.public)
    assert desk.rungs(FW) == ["named"]
    assert desk.states(FW) == ["holds", "unproved"]


def test_another_key(desk: Desk, maker: Maker, gpg: Gpg):
    stranger = Maker(gpg, gpg.key("Stranger one"))
    desk.put({"fw.bin": FW, "fw.bin.sig": stranger.sign(FW), "o.bin": OTHER, "o.bin.sig": stranger.sign(FW)})
    code, done = desk.record(maker.public)
    assert (code, done["matched"]) == (0, 0)
    assert (desk.rungs(FW), desk.states(FW), desk.states(OTHER)) == ([], ["no-key"], ["no-key"])


@pytest.mark.parametrize("way", ["weak", "text", "truncated", "expired", "large"])
def test_signatures_that_are_not_relied_on(desk: Desk, maker: Maker, way: str, monkeypatch: pytest.MonkeyPatch):
    more = {"weak": ["--digest-algo", "SHA1"], "text": ["--textmode"]}.get(way, ["--default-sig-expire", "5"])
    signature = maker.sign(FW, *more)
    if way == "truncated":
        signature = maker.sign(FW, "--armor")[:180]
    if way == "large":
        monkeypatch.setattr(fetch, "MOST", len(FW) - 1)
    desk.put({"fw.bin": FW, "fw.bin.sig": signature})
    desk.record(maker.public)
    if way == "expired":
        assert desk.rungs(FW) == ["named"]
        monkeypatch.setattr(signed, "now", lambda: "2090-01-01T00:00:00+00:00")
    assert desk.rungs(FW) == []
    assert "holds" not in desk.states(FW)
    assert "broken" not in desk.states(FW)


def test_a_revoked_key_names_nothing_any_more(desk: Desk, gpg: Gpg):
    maker = Maker(gpg, gpg.key("Brinewell releases"))
    before = maker.public
    desk.put({"fw.bin": FW, "fw.bin.sig": maker.sign(FW), "SUMS": listed((OTHER, "o.bin")), "o.bin": OTHER})
    desk.put({"SUMS.sig": maker.sign(listed((OTHER, "o.bin")).encode())})
    desk.record(before)
    assert (desk.rungs(FW), desk.rungs(OTHER)) == (["named"], ["named", "neighbour"])
    revocation = (gpg.home / "openpgp-revocs.d" / f"{maker.fingerprint.upper()}.rev").read_text()
    gpg.run("--import", data=re.sub(r"^:-----BEGIN", "-----BEGIN", revocation, flags=re.M).encode())
    code, done = desk.record(maker.public)
    assert (code, done["keys"][0]["revoked"], done["matched"]) == (0, True, 0)
    assert (desk.rungs(FW), desk.rungs(OTHER)) == ([], ["neighbour"])
    assert desk.record(before)[1]["keys"][0]["revoked"] is True  # the older copy does not bring it back
    assert desk.rungs(FW) == []


def test_what_is_no_key_is_not_recorded(desk: Desk, maker: Maker, gpg: Gpg, tmp_path: Path):
    secret = gpg.run("--export-secret-keys", maker.fingerprint)
    for data in (b"", b"text", secret, maker.sign(FW)):
        assert desk.record(data)[0] == 2
    assert desk.record(maker.public + bytes(MAX_KEY_BYTES))[0] == 2
    file = tmp_path / "key.pub"
    assert desk.call("vouch", "--key", file, "--source", " ")[0] == 2
    assert desk.call("vouch", "--key", tmp_path / "gone", "--source", "x")[0] == 2
    assert desk.call("vouch", "--key", file, "--list", file, "--source", "x")[0] == 2
    assert desk.call("vouch", "--source", "x")[0] == 2


# --- lists ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", ["beside", "clear", "text"])
def test_a_signed_list_names_what_it_lists(desk: Desk, maker: Maker, way: str):
    text = listed((FW, "fw.bin"), (b"not here", "gone.bin"))
    lies: dict[str, bytes | str] = {"fw.bin": FW, "elsewhere/o.bin": OTHER}
    if way == "clear":
        lies["SHA256SUMS.asc"] = maker.clear(text)
    else:
        more = ["--textmode"] if way == "text" else []
        lies |= {"SHA256SUMS": text, "SHA256SUMS.asc": maker.sign(text.encode(), "--armor", *more)}
    desk.put(lies)
    assert desk.rungs(FW) == ["neighbour"]
    desk.record(maker.public)
    assert desk.rungs(FW) == ["named", "neighbour"]
    assert desk.rungs(OTHER) == []
    desk.put({"moved/renamed.rom": FW})
    assert "named" in desk.rungs(FW)


@pytest.mark.parametrize("way", ["beside", "clear"])
def test_a_list_edited_after_it_was_signed_vouches_for_nothing(desk: Desk, maker: Maker, way: str):
    text = listed((FW, "fw.bin"))
    edited = text + listed((OTHER, "o.bin"))
    if way == "clear":
        clear = maker.clear(text).replace(text.encode(), edited.encode())
        lies: dict[str, bytes | str] = {"SUMS.asc": clear}
    else:
        lies = {"SUMS": edited, "SUMS.asc": maker.sign(text.encode())}
    desk.put({"fw.bin": FW, "o.bin": OTHER, **lies})
    assert (desk.rungs(FW), desk.rungs(OTHER)) == (["neighbour"], ["neighbour"])
    assert desk.record(maker.public)[0] == 1
    assert (desk.rungs(FW), desk.rungs(OTHER)) == ([], [])


def frames(maker: Maker, text: str, more: str) -> dict[str, bytes]:
    clear, line = maker.clear(text), more.encode()
    head, body = clear.split(b"\n\n", 1)
    twice = b"-----BEGIN PGP SIGNED MESSAGE-----\nHash: SHA256\n\n" + line
    return {
        "before": line + clear,
        "behind": clear + line,
        "in the headers": head + b"\n" + line + b"\n" + body,
        "two frames": clear + maker.clear(more).replace(b"SIGNED MESSAGE", b"SIGNED MESSAGE "),
        "a frame around": twice + b"-----END PGP SIGNED MESSAGE-----\n" + clear,
        "a frame before": twice + clear[clear.index(b"-----BEGIN PGP SIGNATURE") :] + clear,
        "behind a carriage return": clear.replace(b"-----BEGIN PGP SIGNATURE", line + b"\r-----BEGIN PGP SIGNATURE"),
        "after a blank": clear.replace(b"-----BEGIN PGP SIGNATURE", b"\n \n" + line + b"-----BEGIN PGP SIGNATURE", 1),
        "a frame with a blank": (
            clear.replace(b"SIGNED MESSAGE-----\n", b"SIGNED MESSAGE-----  \n", 1)
            + twice
            + clear[clear.index(b"-----BEGIN PGP SIGNATURE") :]
        ),
        "as a header": clear.replace(b"Hash: ", b"Comment: " + line.rstrip() + b"\nHash: ", 1),
    }


FRAMES = (
    "before", "behind", "in the headers", "two frames", "a frame around", "a frame before", "behind a carriage return",
    "after a blank", "a frame with a blank", "as a header",
)  # fmt: skip


@pytest.mark.parametrize("way", FRAMES)
def test_lines_that_a_signature_in_the_clear_does_not_cover(desk: Desk, maker: Maker, way: str):
    """Lines put before, behind, or into the frame name nothing, whatever becomes of the signed ones."""
    text, more = listed((FW, "fw.bin")), listed((OTHER, "o.bin"))
    file = frames(maker, text, more)[way]
    desk.put({"fw.bin": FW, "o.bin": OTHER, "SUMS.asc": file})
    desk.record(maker.public)
    assert "named" not in desk.rungs(OTHER), file.decode()


def test_the_same_list_in_another_bundle_is_no_word_against_it(desk: Desk, maker: Maker):
    """An old release's signed list says nothing of another release's file of the same name."""
    old = listed((FW, "fw.bin"))
    desk.put({"eleven/SUMS": old, "eleven/SUMS.sig": maker.sign(old.encode()), "twelve/fw.bin": OTHER})
    desk.record(maker.public)
    assert desk.show(OTHER)["contradicted"] == []


# --- kits -------------------------------------------------------------------------------------------------------------


def prove(tmp_path: Path, maker: Maker, beside: Mapping[str, bytes]) -> Any:
    """The demo's Bittern pieces in a folder, with these files beside them, and the maker's key recorded."""
    from catalogue.tasks import vouch

    bench = Bench(tmp_path / "bench")
    bundle = Bundle(Bundle.of(bittern.FAMILY).items, packed=False)
    folder = bundle.lay(bench.intake)
    for name, data in beside.items():
        (folder / name).write_bytes(data)
    (tmp_path / "key.pub").write_bytes(maker.public)
    vouch.record_key(bench.context, tmp_path / "key.pub", "the maker's page", "Ann")
    bench.index()
    return bench.kit(bittern.FAMILY)


def role(kit: Any, name: str) -> Any:
    return next(one for one in kit.roles if one.role == name)


def test_a_signed_piece_fills_a_role_that_no_digest_of_the_family_vouches_for(tmp_path: Path, maker: Maker):
    rom = bittern.UEFI
    for name in ("with", "without"):
        (tmp_path / name).mkdir()
    assert role(prove(tmp_path / "without", maker, {}), "uefi-boot-rom").pieces == ()
    kit = prove(tmp_path / "with", maker, {f"{Path(rom.name).name}.sig": maker.sign(rom.data)})
    assert (role(kit, "uefi-boot-rom").pieces, role(kit, "uefi-boot-rom").vouch) == ((sha(rom.data),), "named")
    assert kit.verdict == "ready"


def test_a_broken_signature_stops_the_kit(tmp_path: Path, maker: Maker):
    firmware = bittern.FIRMWARE
    kit = prove(tmp_path, maker, {f"{Path(firmware.name).name}.sig": maker.sign(b"other bytes")})
    assert kit.verdict == "not-ready"
    assert stops(kit) == {("signature-broken", "firmware"), ("role-empty", "firmware")}


def test_a_broken_signature_of_a_companion_stops_the_kit(tmp_path: Path, maker: Maker):
    kit = prove(tmp_path, maker, {f"{Path(bittern.EXTENDER.name).name}.sig": maker.sign(b"other bytes")})
    assert ("signature-broken", "writer") in stops(kit)


def test_a_strangers_signature_changes_nothing(tmp_path: Path, maker: Maker, gpg: Gpg):
    stranger = gpg.key("Stranger two")
    names = [Path(one.name).name for one in (bittern.FIRMWARE, bittern.UEFI)]
    kit = prove(tmp_path, maker, {f"{name}.sig": gpg.sign(b"other bytes", stranger) for name in names})
    assert kit.verdict == "ready"
    assert role(kit, "uefi-boot-rom").pieces == ()
    assert "signature-broken" not in codes(kit, Level.STOP)


# --- a key that a person takes back -----------------------------------------------------------------------------------


def taken_back(desk: Desk, why: str = "its owner lost it") -> None:
    (fact,) = [one for one in desk.call("facts")[1] if one["kind"] == "key" and one["state"] == "stands"]
    assert desk.call("take-back", fact["id"], "--reason", why, "--by", "Bo")[0] == 0


def test_a_key_that_was_taken_back_names_nothing(desk: Desk, maker: Maker):
    """Neither what it signed, nor what a list lists that it signed; recorded anew it stands again."""
    desk.put({"fw.bin": FW, "fw.bin.sig": maker.sign(FW), "SUMS": maker.clear(listed((OTHER, "x"))), "o.bin": OTHER})
    for _ in range(2):
        desk.record(maker.public)
        assert (desk.rungs(FW), desk.rungs(OTHER)) == (["named"], ["named"])
        taken_back(desk)
        assert (desk.rungs(FW), desk.rungs(OTHER)) == ([], [])
        (check,) = desk.show(FW)["signatures"]
        assert check["state"] == "taken-back"
        assert "Bo took the key back" in check["why"] and "its owner lost it" in check["why"]


def test_a_key_that_was_taken_back_speaks_against_nothing(desk: Desk, maker: Maker):
    desk.put({"fw.bin": FW, "fw.bin.sig": maker.sign(OTHER)})
    desk.record(maker.public)
    assert desk.states(FW) == ["broken"]
    taken_back(desk)
    assert desk.states(FW) == ["unproved"]
