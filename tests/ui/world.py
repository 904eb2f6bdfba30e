"""A window over answers made here, through the shapes the tasks answer with: no catalogue, no disk.

The bytes are those of a small option ROM made field by field; its reading says of them what is so.
"""

import hashlib
import struct
from array import array
from dataclasses import dataclass, field, replace

from PySide6.QtCore import QEventLoop, QSettings, QTimer

from catalogue.errors import NotWorkable
from catalogue.shapes.changes import Changes
from catalogue.shapes.finding import ClearedBy, Evidence, Finding, Level
from catalogue.shapes.kit import Kit, Other, RoleChoice
from catalogue.shapes.mending import Change, ChangeKind, Mending, Proposal
from catalogue.shapes.piece import Contradiction, PieceDetail, PieceInfo, Place, Vouch
from catalogue.shapes.reading import CardId, Fault, Field, Reading, Span, VersionClaim
from catalogue.shapes.results import Accepted, FamilyInfo, FamilyMatch, FileProblem, FileState, ReadBack
from catalogue.shapes.shelf import ShelfRow, ShelfState
from catalogue.shapes.target import TextLines
from catalogue.shapes.why_not import Asking, WhyNot
from catalogue.tasks import evidence as evidence_task
from catalogue.tasks.context import Context
from ui import look, tasks
from ui.session import Session
from ui.window import Window

FAULT = "The catalogue is locked by another program; close it and try again."
IMAGE = 0x600
PADDED = 0x800


def rom_bytes() -> bytes:
    image = bytearray(IMAGE)
    image[0:3] = b"\x55\xaa\x03"
    struct.pack_into("<H", image, 0x18, 0x1C)
    image[0x1C:0x20] = b"PCIR"
    struct.pack_into("<HH", image, 0x20, 0xF234, 0x0C80)
    image[0x29:0x2C] = b"\x00\x04\x01"
    struct.pack_into("<H", image, 0x2C, IMAGE // 512)
    image[0x31] = 0x80
    image[0x40:0x4B] = b"CVLB 8.41.0"
    image[-1] = -sum(image) & 0xFF
    return bytes(image) + b"\xff" * (PADDED - IMAGE)


ROM = rom_bytes()
ROM_SHA = hashlib.sha256(ROM).hexdigest()


def sha(number: int) -> str:
    return hashlib.sha256(str(number).encode()).hexdigest()


LEGACY = Reading(
    "option-rom-image",
    "option-rom/legacy-x86",
    "Image 1: legacy x86",
    0,
    IMAGE,
    fields=(
        Field("offset", 0, None, 0, "where the image begins"),
        Field("length", IMAGE, 0x2C, 2, "length of the image", "PCI Firmware Specification 3.3, 5.1.2"),
        Field("vendor_id", 0xF234, 0x20, 2, "maker of the card this image is for"),
        Field("device_id", 0x0C80, 0x22, 2, "card this image is for"),
        Field("class_code", 0x010400, 0x29, 3, "what the card is: RAID controller"),
        Field("checksum_ok", True, 0, IMAGE, "all bytes of the image sum to 0"),
        Field("last_image", True, 0x31, 1, "bit 7: no image follows"),
    ),
    ids=(CardId(0xF234, 0x0C80, (0x0C80, 0x0C81), 0x010400),),
    notes=(Fault("rom-odd", "bytes that look <b>bold</b> are plain", 2),),
)
READING = Reading(
    "option-rom",
    "option-rom",
    "PCI option ROM: legacy x86, F234:0C80",
    0,
    PADDED,
    parts=(LEGACY,),
    ids=LEGACY.ids,
    versions=(VersionClaim("8.41.0", "text in the image", 0x45),),
    spans=(Span("Image 1, legacy x86", 0, IMAGE), Span("padding (FFh)", IMAGE, PADDED - IMAGE)),
)
INFO = PieceInfo(
    ROM_SHA,
    PADDED,
    "option-rom",
    READING.title,
    (Place("/downloads/bittern-twelve.zip", ("rom/QHBOOT.ROM",)), Place("/downloads/odd \u202e\x07name.rom")),
    LEGACY.ids,
    READING.versions,
    (),
    (Vouch("named", "Corvane download page", "/lists/corvane.sha256", "sha256"),),
)
DETAIL = PieceDetail(INFO, READING, (Contradiction("/downloads/SUMS", 7, "md5", "0" * 32, "1" * 32, "QHBOOT.ROM"),))

TITLES = (
    (
        "PCI option ROM: legacy x86, F234:0C80",
        "option-rom",
        "F234:0C80 Corvane Bittern",
        "8.41.0",
        "text at 0045h",
        "named",
    ),
    ("DOS program, MZ with an extender", "dos-program", "", "3.12", "text at 1A20h", "agreed"),
    ("Opaque bytes", "opaque", "", "12.04.0", "text at 0200h", "none"),
    ("Zip archive, 14 members", "archive/zip", "", "", "", "neighbour"),
)


def shelf_row(number: int) -> ShelfRow:
    title, kind, card, version, source, rung = TITLES[number % len(TITLES)]
    return ShelfRow(
        id=number,
        sha256=ROM_SHA if number == 0 else sha(number),
        title=title,
        kind=kind,
        card=card,
        version=version,
        version_source=source,
        size=PADDED * (number + 1),
        families=("Corvane Bittern",) if number % 2 == 0 else (),
        vouch=rung,
        place=f"/downloads/bundle-{number}.zip › rom/PIECE.ROM",
        new=number < 2,
    )


BYTES_AT = Evidence("/downloads/bittern-twelve.zip › rom/QHBOOT.ROM", "device_id", 0x22, 2, "F234:0C81", "F234:0C80")
FINDINGS = (
    Finding(
        "unvouched",
        Level.STOP,
        "Nothing vouches for this EEPROM image",
        (BYTES_AT,),
        "Record a list, or give your word.",
        clearable=True,
        role="eeprom-image",
        piece=ROM_SHA,
    ),
    Finding(
        "other-mode",
        Level.STOP,
        "This boot ROM is for the other mode",
        (BYTES_AT,),
        "Take the one of the same release.",
        role="legacy-boot-rom",
        piece=ROM_SHA,
    ),
    Finding(
        "stale",
        Level.CAUTION,
        "A newer one is known",
        (Evidence("/families/bittern.toml", "release[0]"),),
        "Get 8.42.0.",
    ),
    Finding(
        "version-unread",
        Level.CAUTION,
        "No version could be read",
        (BYTES_AT,),
        "Compare it by eye.",
        clearable=True,
        cleared_by=ClearedBy("Mara Quill", "compared by eye"),
        piece=ROM_SHA,
    ),
    Finding(
        "left-out", Level.NOTE, "The UEFI boot ROM is left out", (BYTES_AT,), "Nothing, if the machine needs none."
    ),
)
KIT = Kit(
    id=sha(900),
    family="corvane-bittern",
    family_title="Corvane Bittern",
    family_sha256=sha(901),
    route="raid-to-pass-dos",
    verdict="not-ready",
    roles=(
        RoleChoice(
            "firmware", True, True, (sha(2),), "12.04.0", "yes", "named", "current", others=(Other(sha(5), ("older",)),)
        ),
        RoleChoice("eeprom-image", True, True, (ROM_SHA,), None, "yes", "neighbour", "unknown"),
        RoleChoice("writer", True, False, (), None),
        RoleChoice("uefi-boot-rom", False, True, left_out=True, others=(Other(ROM_SHA, ("other-mode", "tie")),)),
    ),
    findings=FINDINGS,
    said=("No card of this family has compared well by this route yet.",),
)
READY = replace(
    KIT,
    id=sha(910),
    verdict="ready",
    findings=tuple(one for one in FINDINGS if one.level is not Level.STOP),
)
FAMILIES = [
    FamilyInfo(
        "corvane-bittern", "Corvane Bittern", ("raid", "pass"), (), ("raid-to-pass-dos",), True, "/f/bittern.toml"
    ),
    FamilyInfo("corvane-heron", "Corvane Heron", ("raid", "pass"), (), ("raid-to-pass-dos",), False, "/f/heron.toml"),
    FamilyInfo(
        "plover",
        "Brinewell Plover",
        (),
        (),
        (),
        False,
        "/f/plover.toml",
        (FileProblem("/f/plover.toml", 41, "step scour destroys flash that no step saved"),),
    ),
]
ROUTES = (
    tasks.RouteInfo("raid-to-pass-dos", "raid", "pass", "dos"),
    tasks.RouteInfo("raid-to-pass-uefi", "raid", "pass", "uefi"),
)
MATCH = FamilyMatch("corvane-bittern", "Corvane Bittern", "raid", "F234:0C80 is its RAID mode")


CHANGES = (
    Change(ChangeKind.SUPPLY, "Get a piece for writer from its maker and index it: kind dos-program; holds the text "
           "QUAYHAND; version 3.10 to 3.99; beside it QHXTEND.BIN.", "writer",
           wanted=(("kind", "dos-program"), ("holds the text", "QUAYHAND"), ("as version", "3.99")), supposed=True),
    Change(ChangeKind.VOUCH, "Record a source that names QHBOOT.ROM: its maker's list of digests.", "eeprom-image",
           ROM_SHA, "unvouched"),
    Change(ChangeKind.PIN, "Pin QHBOOT.ROM for eeprom-image: it is near too.", "eeprom-image", ROM_SHA),
    Change(ChangeKind.WORD, "Give your word on unvouched for QHBOOT.ROM, with a reason and your name.", "eeprom-image",
           ROM_SHA, "unvouched"),
)  # fmt: skip
MEND = Mending(
    (Proposal(CHANGES[:2]), Proposal((CHANGES[0], CHANGES[2])), Proposal((CHANGES[0], CHANGES[3]))), True, 20
)
WHY = WhyNot(
    "eeprom-image", ROM_SHA, "QHBOOT.ROM", "miss", "QHBOOT.ROM is stopped: other-mode. No word clears that.",
    ("other-mode",), (), "8.41.0", "CVLB {version}", "none",
    (Asking("ids", "yes", "An image of it names F234:0C80.", (BYTES_AT,)),
     Asking("hash", "silent", "Its SHA-256 stands in no release.", (Evidence("/families/bittern.toml:90", "sha256"),))),
    (Asking("ids", "no", "It names F234:0C80, the IDs of mode raid; this role takes F234:0C81.", (BYTES_AT,)),),
    FINDINGS[1:2],
)  # fmt: skip
PLACES = ("/downloads/bittern-twelve.zip › rom/QHBOOT.ROM",)
LINES = TextLines("/families/bittern.toml", tuple(f"line {number}" for number in range(1, 200)), 1, 90, False)


@dataclass
class World:
    """The window and what its questions are answered with; `asked` keeps the questions."""

    window: Window
    pieces: int = 40
    failing: bool = False
    kit: Kit = KIT
    mend: Mending = MEND
    hosts: list = field(default_factory=list)
    stale: list = field(default_factory=list)
    words: list = field(default_factory=list)
    written: list = field(default_factory=list)
    families: list = field(default_factory=lambda: list(FAMILIES))
    folders: tuple = ("/downloads",)
    asked: list = field(default_factory=list)

    def answer(self, name, value):
        self.asked.append(name)
        if self.failing:
            raise NotWorkable(FAULT)
        return value

    @property
    def session(self):
        return self.window.session

    def settle(self, until=lambda: True, most_ms=4000):
        """Let the window work until nothing is asked any more and `until` holds; the answer of `until`."""
        loop = QEventLoop()
        timer = QTimer()
        left = [most_ms // 10, 3]

        def look_again():
            left[0] -= 1
            quiet = until() and not any(lane.busy for lane in self.session._lanes.values())
            left[1] = left[1] - 1 if quiet else 3
            if left[0] <= 0 or left[1] <= 0:
                loop.quit()

        timer.timeout.connect(look_again)
        timer.start(10)
        loop.exec()
        timer.stop()
        return until()

    def close(self):
        self.window.close()
        self.window.deleteLater()


def make_world(tmp_path, monkeypatch, qapp, *, dark=False, pieces=40) -> World:
    qapp.setPalette(look.palette(look.DARK if dark else look.LIGHT))
    settings = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
    window = Window(Session(Context(str(tmp_path / "catalogue.db")), settings))
    world = World(window, pieces=pieces)
    answers = {
        "shelf_state": lambda c: ShelfState(
            world.pieces,
            2 if world.pieces else 0,
            world.folders if world.pieces else (),
            tuple((kind, 10) for _, kind, *_ in TITLES) if world.pieces else (),
        ),
        "shelf_ids": lambda c, query, kind="", most=None, **_: found(query, kind)[:most],
        "shelf_rows": lambda c, ids: [shelf_row(one) for one in ids],
        "piece": lambda c, what: DETAIL,
        "bytes_of": lambda c, what, at, length: ROM[at : at + length],
        "families": lambda c: list(world.families),
        "routes": lambda c, family: ROUTES,
        "find_family": lambda c, text: [MATCH] if "0C80" in text.upper() else [],
        "look_at_family": lambda c, file, progress: Accepted("corvane-heron", sha(3), False),
        "accept_family": lambda c, file: Accepted("corvane-heron", sha(3), True, changes=Changes(families=True)),
        "hosts": lambda: list(world.hosts),
        "words": lambda c, family: list(world.words),
        "take_back_word": lambda c, *a: Changes(words=True),
        "stale": lambda c, stopper: list(world.stale),
        "written_kits": lambda c: list(world.written),
        "kit": lambda c, family, route, pins, progress, host, saved=(): replace(
            world.kit, family=family, route=route, pins=pins
        ),
        "mending": lambda c, *a, saved=(): world.mend,
        "why_not": lambda c, family, route, pins, wish, host, saved=(): replace(WHY, role=wish[0], piece=wish[1]),
        "evidence_target": lambda c, evidence, piece: evidence_task.lead(
            evidence, piece, {PLACES[0]: ROM_SHA}.get, lambda path: path.startswith("/families/")
        ),
        "text_lines": lambda c, target: LINES,
        "names_for": lambda c, kit: {
            ROM_SHA: tasks.Named("QHBOOT.ROM", "PCI option ROM", "/downloads/bittern-twelve.zip › rom/QHBOOT.ROM")
        },
        "give_word": lambda c, *a, **k: Changes(words=True),
        "laid": lambda c, kit: tasks.Laid(
            "BITT-7F3", (("FW12.BIN", ("firmware",), 1_048_576), ("PASS.BIN", ("eeprom-image",), 320))
        ),
        "read_back": lambda target, progress: ReadBack(
            str(target), (FileState("FW12.BIN", "same"), FileState("X.COM", "stray")), FINDINGS[2:3], "same"
        ),
    }
    for name, make in answers.items():
        monkeypatch.setattr(tasks, name, lambda *a, _n=name, _m=make, **k: world.answer((_n, *a[1:]), _m(*a, **k)))

    def found(query, kind):
        if not query and not kind:
            return array("q", range(world.pieces))
        rows = (shelf_row(number) for number in range(world.pieces))
        return array("q", [one.id for one in rows if query.lower() in one.title.lower() and kind in ("", one.kind)])

    return world
