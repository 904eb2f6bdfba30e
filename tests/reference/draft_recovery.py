"""How much of a shipped family file a draft recovers from the demo's folders, line by line: `python -m
tests.reference.draft_recovery [--lines]`; and of a family written by hand for real ROMs of a Debian package.

The family file is taken away; the folder holds the family's own bundles. "with papers" also has what a technician who
has done the work once keeps: a saved listing, the card's two dumps, the log. Those are made by the file's own words.
"""

from __future__ import annotations

import struct
import sys
import tempfile
import tomllib
from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from hashlib import sha256
from pathlib import Path

from catalogue.families.toml_lines import line_index
from catalogue.shapes.draft import Draft
from catalogue.tasks import draft_family
from catalogue.tasks.context import Context
from sample_bundles import bittern, dos, eeprom, heron, plover
from sample_bundles.item import Item
from sample_bundles.noise import noise
from tests.reference import debian
from tests.reference.test_real_rom_family import FAMILY as REAL

SHIPPED = Path(__file__).parents[2] / "resources" / "families"
FOLDERS: dict[str, tuple[Item, ...]] = {
    bittern.FAMILY: (bittern.release_twelve(), bittern.release_eleven(),
                     *(one for one in bittern.about() if one.name.startswith("bench/"))),
    heron.FAMILY: (heron.release_autumn(), heron.release_spring()),
    plover.FAMILY: (plover.release_three(), plover.release_two()),
}  # fmt: skip
ADDRESS = {bittern.FAMILY: "5F23401000001A40", heron.FAMILY: "5F23401000002B80", plover.FAMILY: "F234020017C2"}
SERIAL = {bittern.FAMILY: "CB0023117", heron.FAMILY: "CH0017005"}
FROM = {bittern.FAMILY: "F234:0C80", heron.FAMILY: "F234:0A60", plover.FAMILY: "F567:2B10"}
DUMPS = {
    heron.FAMILY: (eeprom.heron(heron.RAID, int(ADDRESS[heron.FAMILY], 16), SERIAL[heron.FAMILY]),
                   eeprom.heron(heron.PASS, int(ADDRESS[heron.FAMILY], 16), SERIAL[heron.FAMILY])),
}  # fmt: skip
PROGRAMS = {bittern.FAMILY: {"dos": "QHAND", "uefi": "QHAND.EFI"}, heron.FAMILY: {"dos": "WHAND", "uefi": "WHAND.EFI"},
            plover.FAMILY: {"linux": "./shingle", "uefi": "SHGL.EFI"}}  # fmt: skip
FILES = {
    bittern.FAMILY: {"firmware": "BTP12040.FW", "eeprom-image": "BTCFGP.BIN", "legacy-boot-rom": "BTLB841.ROM",
                     "uefi-boot-rom": "BTUB142.ROM"},
    heron.FAMILY: {"firmware": "HNP7182.FW", "eeprom-image": "HNCFGP.BIN", "legacy-boot-rom": "HNLB512.ROM",
                   "uefi-boot-rom": "HNUB603.ROM"},
    plover.FAMILY: {"firmware": "PLVN231.BIN", "legacy-boot-rom": "PLVNB180.ROM", "uefi-boot-rom": "PLVNB180.ROM"},
}  # fmt: skip

ROMS = (("efi-e1000.rom", "efi-e1000e.rom"), ("efi-virtio.rom", "efi-vmxnet3.rom"),
        ("efi-rtl8139.rom", "efi-pcnet.rom"))  # fmt: skip


def shipped(family: str) -> str:
    """The shipped file's text."""
    return (SHIPPED / f"{family}.toml").read_text(encoding="utf-8")


def listing(family: str) -> str:
    """A saved listing in the words of the family file."""
    told = tomllib.loads(shipped(family))
    block = told["listing"]["block"].split(" ~ ")[0]
    rows = [f"  Shows as ........ {FROM[family]}"]
    for name, one in told["identity"].items():
        value = ADDRESS[family] if one["as"] != "text" else f"00{SERIAL[family]}"
        rows.append(f"  {one['find'].split(' ~ ')[0]} ..... {value}")
        assert name in ("sas", "mac", "serial")
    return "\r\n".join([f"{block} ............. 1", *rows, ""])


def log(family: str) -> str:
    """The log of every route, as somebody typed it."""
    out = []
    for route in tomllib.loads(shipped(family))["route"]:
        for step in route["step"]:
            if "type" not in step:
                continue
            line = " ".join((step["type"], *step.get("adds", ())))
            words = {"writer": PROGRAMS[family][route["bench"]], "slot": "1", "makes": step.get("makes", ""),
                     "sas": ADDRESS[family], "mac": ADDRESS[family].lower(), "serial": SERIAL.get(family, ""),
                     **FILES[family]}  # fmt: skip
            for name, word in words.items():
                line = line.replace(f"{{{name}}}", word)
            out.append(f"A:\\>{' '.join(dict.fromkeys(line.split()))}")
    return "\r\n".join(out) + "\r\n"


def drafted(family: str, under: Path, *, papers: bool) -> Draft:
    """The draft from the family's bundles, laid under `under`."""
    folder = under / "downloads"
    for item in FOLDERS[family]:
        path = folder / item.name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(item.data)
    given = []
    if papers:
        for number, data in enumerate(DUMPS.get(family, ())):
            (folder / f"DUMP{number}.BIN").write_bytes(data)
        for name, text in (("LISTING.TXT", listing(family)), ("LOG.TXT", log(family))):
            (under / name).write_text(text, newline="")
            given.append(under / name)
    context = Context(str(under / "unused.sqlite"), today=date(2026, 3, 2))
    return draft_family.run(context, folder, given)


Tree = dict[str, object]


def renamed(draft: Tree, truth: Tree) -> Tree:
    """The draft under the shipped file's names: modes by IDs, the layout, releases by digests, routes by bench."""
    out = dict(draft)
    modes = {str(one["ids"]): name for name, one in truth["mode"].items()}
    out["mode"] = {modes.get(str(one["ids"]), name): one for name, one in draft.get("mode", {}).items()}
    if truth.get("layout") and draft.get("layout"):
        (out["layout"],) = ({next(iter(truth["layout"])): one} for one in draft["layout"].values())
        role = {"eeprom-image": {**draft["role"]["eeprom-image"], "layout": next(iter(truth["layout"]))}}
        out["role"] = {**draft["role"], **role}
    out["release"] = [_nearest(one, draft.get("release", [])) for one in truth["release"]]
    routes = {one["bench"]: one for one in draft.get("route", [])}
    out["route"] = [routes.get(one["bench"], {}) for one in truth["route"]]
    return out


def _nearest(truth: Tree, held: list[Tree]) -> Tree:
    return max(held, key=lambda one: len(_digests(one) & _digests(truth)), default={})


def _digests(release: Tree) -> set[str]:
    return {sha for one in release.values() if isinstance(one, dict) for sha in one.get("sha256", ())}


def leaves(value: object, path: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], object]]:
    """Every single value of a document, with its path."""
    below = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else None
    if below is None:
        yield path, value
    else:
        for key, one in below:
            yield from leaves(one, (*path, key))


def holds(draft: object, path: tuple[str | int, ...], want: object) -> bool:
    """Whether the draft says the same at a path; the entries of a list stand in any order."""
    if not path:
        return draft == want
    key, rest = path[0], path[1:]
    if isinstance(draft, dict):
        return key in draft and holds(draft[key], rest, want)
    if not isinstance(draft, list) or not isinstance(key, int):
        return False
    if not rest:
        return want in draft
    return key < len(draft) and holds(draft[key], rest, want)


def real(first: str, later: str, under: Path, roms: Path) -> tuple[Draft, str]:
    """The draft from two real ROMs, a stand-in utility and a log, and the family that a person wrote for them.

    Source of the ROMs: Debian package `ipxe-qemu` (network boot ROMs of emulated cards), in the folder `roms`. The IDs
    in the family are read by the PCI Firmware Specification 3.3, 5.1.2.
    """
    folder = under / "downloads"
    folder.mkdir(parents=True)
    ids = []
    for name in (first, later):
        data = (roms / name).read_bytes()
        (folder / name).write_bytes(data)
        at = struct.unpack_from("<H", data, 0x18)[0]
        assert data[at : at + 4] == b"PCIR"
        ids.append("{:04X}:{:04X}".format(*struct.unpack_from("<HH", data, at + 4)))
    (folder / "STANDIN.EXE").write_bytes(dos.mz("STANDINHAND 1.00", noise("stand-in", 2_000)))
    digest = sha256((folder / first).read_bytes()).hexdigest()
    truth = REAL.format(digest=digest).replace("8086:100E", ids[0]).replace("8086:10D3", ids[1])
    listed = f"Berth ............. 1\r\n  Shows as ........ {ids[1]}\r\n  Board address ... 5F23401000001A40\r\n"
    log = "".join(
        f"A:\\>STANDIN {line}\r\n"
        for line in ("look > CARD.TXT", "keep 1 OLD.BIN", f"load 1 {first}", "match 1 > MATCH.TXT", "look > AFTER.TXT")
    )
    for name, text in (("LISTING.TXT", listed), ("LOG.TXT", log)):
        (under / name).write_text(text, newline="")
    context = Context(str(under / "unused.sqlite"), today=date(2026, 3, 2))
    return draft_family.run(context, folder, [under / "LISTING.TXT", under / "LOG.TXT"]), truth


def recovered(draft: str, family: str) -> list[tuple[int, int, int, str]]:
    """For each line of the shipped file with a value: its number, values recovered, values in all, the line."""
    return recovered_of(draft, shipped(family))


def recovered_of(draft: str, text: str) -> list[tuple[int, int, int, str]]:
    """The same of any family file's text."""
    truth = tomllib.loads(text)
    have = renamed(tomllib.loads(draft), truth)
    lines = line_index(text)
    count: dict[int, list[bool]] = defaultdict(list)
    for path, want in leaves(truth):
        count[lines[path]].append(holds(have, path, want))
    rows = text.splitlines()
    return [(n, sum(found), len(found), rows[n - 1]) for n, found in sorted(count.items())]


def totals(rows: list[tuple[int, int, int, str]]) -> tuple[int, int, int]:
    """Lines recovered whole, lines in part, lines in all."""
    whole = sum(have == all_ for _n, have, all_, _line in rows)
    return whole, sum(0 < have < all_ for _n, have, all_, _line in rows), len(rows)


def main(*words: str) -> None:
    """Print the table; with --lines every line and how much of it was recovered."""
    sys.stdout.write(f"{'family':18} {'given':12} {'whole':>6} {'part':>5} {'lines':>6} {'asked':>6}\n")
    for family in FOLDERS:
        for papers in (False, True):
            with tempfile.TemporaryDirectory() as under:
                made = drafted(family, Path(under), papers=papers)
            rows = recovered(made.text, family)
            whole, part, every = totals(rows)
            given = "with papers" if papers else "bundles"
            sys.stdout.write(f"{family:18} {given:12} {whole:6} {part:5} {every:6} {len(made.asks):6}\n")
            if "--lines" in words:
                for number, have, all_, line in rows:
                    sys.stdout.write(f"  {number:4} {have}/{all_} {line[:130]}\n")
            if "--draft" in words:
                sys.stdout.write(made.text)
    for first, later in ROMS:
        folder, why = debian.obtain("ipxe-qemu")
        if folder is None:
            sys.stdout.write(f"{first}: {why}\n")
            continue
        with tempfile.TemporaryDirectory() as under:
            made, truth = real(first, later, Path(under), folder / "usr/lib/ipxe/qemu")
        rows = recovered_of(made.text, truth)
        whole, part, every = totals(rows)
        sys.stdout.write(f"{first:18} {'real ROMs':12} {whole:6} {part:5} {every:6} {len(made.asks):6}\n")
        if "--lines" in words:
            for number, have, all_, line in rows:
                sys.stdout.write(f"  {number:4} {have}/{all_} {line[:130]}\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
