"""What the tasks answer with; the command line prints these as text or JSON, the window shows them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from catalogue.shapes.changes import Changes
from catalogue.shapes.draft import Proof
from catalogue.shapes.finding import Finding
from catalogue.shapes.kit import Kit
from catalogue.shapes.piece import SignatureCheck


@dataclass(frozen=True, slots=True)
class Unreadable:
    """Something that could not be opened or read through, and the reason in words."""

    place: str
    why: str


@dataclass(frozen=True, slots=True)
class IndexSummary:
    """What one run of `index` met. `files` counts files on disk; `pieces` and `archives` those met in this run.

    `new`, `changed`, `unchanged` and `gone` count files. `moved` of the new ones hold what lay at a place now gone;
    `skipped` counts links and special files, which are never opened.
    """

    files: int
    pieces: int
    archives: int
    new: int
    changed: int
    unchanged: int
    gone: int
    unreadable: tuple[Unreadable, ...]
    seconds: float
    named_unreadable: bool = False
    changes: Changes = Changes()
    moved: int = 0
    skipped: int = 0


@dataclass(frozen=True, slots=True)
class FamilyInfo:
    """A card family as lists show it; `problems` says why it is not settled, each with file and line.

    `as_of` is the day that what it knows is of; `shipped` that its file came with the program. `came` says from which
    bench its file came, and through whom; "" for this bench's own. Of a variant `extends` is the family it stands on,
    and `changes` what it says otherwise.
    """

    id: str
    title: str
    modes: tuple[str, ...]
    roles: tuple[str, ...]
    routes: tuple[str, ...]
    settled: bool
    file: str
    problems: tuple[FileProblem, ...] = ()
    came: str = ""
    extends: str = ""
    changes: tuple[FamilyChange, ...] = ()
    as_of: date | None = None
    shipped: bool = False


@dataclass(frozen=True, slots=True)
class Stale:
    """Something stale or withdrawn: `what` is a place or a written kit, `has` its version, `newest` the newest known.

    `as_of` is the day the family's knowledge is of. Of a written kit, `kit` is its id, `target` where it was written to
    and `when`, in UTC.
    """

    what: str
    has: str
    newest: str
    why: str
    family: str
    role: str
    piece: str
    age: str
    as_of: date
    kit: str = ""
    target: str = ""
    when: str = ""


@dataclass(frozen=True, slots=True)
class WordGiven:
    """A person's word on record: for which code and content, why, by whom, when (UTC), and where the piece lies.

    `changed` says, sentence by sentence, what has changed since it was given.
    """

    family: str
    code: str
    sha256: str
    reason: str
    by: str
    at: str
    place: str
    changed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WrittenKit:
    """One kit that was written out from this catalogue: where to, when (UTC), and what it was."""

    kit: str
    family: str
    family_title: str
    route: str
    target: str
    when: str


@dataclass(frozen=True, slots=True)
class HostInfo:
    """One kept host file: its name, where it lies, what it tells of each machine; `problems` where it is not sound."""

    name: str
    file: str
    bench: tuple[str, ...] = ()
    destination: tuple[str, ...] = ()
    problems: tuple[FileProblem, ...] = ()


@dataclass(frozen=True, slots=True)
class FileProblem:
    """One thing wrong with a family file; `line` counts from 1."""

    file: str
    line: int
    text: str


@dataclass(frozen=True, slots=True)
class FamilyChange:
    """One value of a family file that differs: its path, what it was and is ("" where it is not there), its place.

    `file` and `line` are those of the value as it is now, or, where it is gone, as it was.
    """

    path: str
    was: str
    now: str
    file: str
    line: int


@dataclass(frozen=True, slots=True)
class KitChange:
    """What comes out otherwise by a family's new text: `what` is "verdict", "stops" or a role of `route`."""

    route: str
    what: str
    was: str
    now: str


@dataclass(frozen=True, slots=True)
class FamilyUpdate:
    """What a new text of an accepted family changes: its values, the kits of the catalogue as it stands.

    `written` names kits that were written out by the text before: their targets.
    """

    before: str
    changes: tuple[FamilyChange, ...]
    kits: tuple[KitChange, ...] = ()
    written: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FamilyMatch:
    """A family that answers to a card's IDs: which mode (or half-way state) it shows, and why we say so."""

    id: str
    title: str
    mode: str
    why: str


@dataclass(frozen=True, slots=True)
class Accepted:
    """What `accept-family` did. Not settled: `problems` say why. `proof` is that of a drafted file.

    `update` is what a new text of a family that was accepted before changes.
    """

    id: str
    sha256: str
    settled: bool
    problems: tuple[FileProblem, ...] = ()
    changes: Changes = Changes()
    proof: Proof | None = None
    update: FamilyUpdate | None = None


@dataclass(frozen=True, slots=True)
class ContradictedEntry:
    """A recorded list's entry whose name lies in the catalogue with other bytes."""

    name: str
    want: str
    have: str
    place: str


@dataclass(frozen=True, slots=True)
class KeyRecorded:
    """A public key that was recorded. `kind` is "openpgp" or "ed25519"; `expires` is None for never."""

    kind: str
    fingerprint: str
    holder: str
    expires: str | None
    revoked: bool


@dataclass(frozen=True, slots=True)
class Vouched:
    """What recording a list did: its entries, how many match pieces here, and which speak against one.

    `facts` are the ids of what was recorded, by which it can be taken back. `refused` says why nothing was.
    Of keys: how many there are, how many signatures here hold by them, which are broken, which they cannot speak of.
    """

    entries: int
    matched: int
    contradicted: tuple[ContradictedEntry, ...] = ()
    changes: Changes = Changes()
    keys: tuple[KeyRecorded, ...] = ()
    unproved: tuple[SignatureCheck, ...] = ()
    facts: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FactLine:
    """One recorded fact as lists show it. `what` is in words, `bench` "" for one of this bench's own.

    `state` is "stands" or "taken-back"; `why` then says by whom, when and why.
    """

    id: str
    kind: str
    what: str
    by: str
    at: str
    bench: str = ""
    accepted_by: str = ""
    accepted_at: str = ""
    state: str = "stands"
    why: str = ""


@dataclass(frozen=True, slots=True)
class TookBack:
    """A fact that was taken back."""

    fact: FactLine
    changes: Changes = Changes()


@dataclass(frozen=True, slots=True)
class FactsOut:
    """What was written to a facts file: its SHA-256, and how many facts and family files it holds."""

    file: str
    sha256: str
    bench: str
    facts: int
    families: tuple[str, ...]
    changes: Changes = Changes()


@dataclass(frozen=True, slots=True)
class Against:
    """A fact of a facts file that is not taken in, or speaks against what is here, and why."""

    fact: FactLine
    why: str


@dataclass(frozen=True, slots=True)
class FactsIn:
    """What a facts file holds, and how it stands to what is here.

    `new` are facts that would be taken in (`taken`: were), `known` how many are here already, `against` those that
    contradict what is here and are left out. `words` are persons' words, left out unless asked for. `speaks_against`
    are lines of new lists that give another digest for a piece here. `signatures` are those beside the file.
    """

    file: str
    sha256: str
    bench: str
    sent_by: str
    taken: bool
    new: tuple[FactLine, ...] = ()
    known: int = 0
    against: tuple[Against, ...] = ()
    words: tuple[FactLine, ...] = ()
    speaks_against: tuple[ContradictedEntry, ...] = ()
    families: tuple[FamilyIn, ...] = ()
    signatures: tuple[SignatureCheck, ...] = ()
    changes: Changes = Changes()


@dataclass(frozen=True, slots=True)
class FamilyIn:
    """A family file that came with facts. `state`: "new", "known" (the very file is here), "differs", "broken".

    `file` is where it lies now, "" where it was not laid down. It is never settled by coming in.
    """

    id: str
    sha256: str
    state: str
    file: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class WrittenFile:
    """One file laid on a medium under its 8.3 name; `role` is "" for the kit's own papers."""

    name: str
    role: str
    sha256: str
    size: int


@dataclass(frozen=True, slots=True)
class FileState:
    """One file of a medium after reading it back: same, differs, missing or stray."""

    name: str
    state: str


@dataclass(frozen=True, slots=True)
class ReadBack:
    """What the medium says of itself. `read_back` is "same" or "differs"."""

    target: str
    files: tuple[FileState, ...]
    findings: tuple[Finding, ...]
    read_back: str


@dataclass(frozen=True, slots=True)
class WriteOut:
    """What `write-out` did; `kit` is the kit it judged. Nothing written: `files` is empty and `read_back` is ""."""

    target: str
    kit: Kit
    files: tuple[WrittenFile, ...] = ()
    findings: tuple[Finding, ...] = ()
    read_back: str = ""
    folder: str = ""
    changes: Changes = Changes()


@dataclass(frozen=True, slots=True)
class DemoRefusal:
    """A tempting wrong piece that the demo pinned for `role`, and what the judge said of it.

    `wanted` is the finding code that must stop it, `codes` all stops that name the piece, `text` the wanted one's own
    sentence ("" where it did not come).
    """

    role: str
    piece: str
    place: str
    what: str
    wanted: str
    codes: tuple[str, ...]
    text: str
    verdict: str


@dataclass(frozen=True, slots=True)
class DemoSummary:
    """What the demo did, and whether it all came out as intended; `problems` say what did not.

    `lines` is the story for a person, `try_next` the calls it ends with. `read_back` is the medium read once more,
    after writing; it and `write_out` are None where the kit was not ready.
    """

    folder: str
    downloads: str
    medium: str
    made: int
    kept: int
    index: IndexSummary
    kit: Kit
    refused: tuple[DemoRefusal, ...]
    write_out: WriteOut | None
    read_back: ReadBack | None
    problems: tuple[str, ...]
    try_next: tuple[str, ...]
    lines: tuple[str, ...]
    as_intended: bool
    changes: Changes = Changes()
