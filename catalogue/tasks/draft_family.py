"""Draft a family file from a known-good folder, saved listings and logs.

The folder is indexed into a catalogue of its own that is thrown away: nothing is added to the catalogue in use.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from catalogue.errors import BadCall
from catalogue.families import drafting
from catalogue.families.drafting import Piece, RomImage, Text
from catalogue.formats.eeprom_sums import SUMS
from catalogue.intake import fetch, indexing, whole
from catalogue.shapes.draft import Draft
from catalogue.shapes.piece import INTO, PieceFacts, Place
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.reading import FieldValue, Reading
from catalogue.store import Store, evidence
from catalogue.tasks.context import Context
from catalogue.tasks.hashes import whole_hash
from catalogue.tasks.saved_texts import data_of, is_bytes, text_of

MOST_PIECE = 64 << 20
MOST_BYTES = 512 << 20
"""Bytes of a folder that are held for one draft; what lies beyond is said and left out."""
MOST_PIECES = 5_000
MOST_CHOSEN = 500
MOST_TEXT = 1 << 20
MOST_TEXTS = 200


def run(
    context: Context,
    folder: Path | None,
    identity: Sequence[Path] = (),
    out: Path | None = None,
    progress: Progress | None = None,
    *,
    chosen: Sequence[str] = (),
) -> Draft:
    """The draft; written to `out` where one is named, which must not be there yet.

    Without a folder it is made from the pieces `chosen`, by their hashes or the beginnings of them, of the catalogue in
    use. `identity` are saved texts, logs, and dumps. Raises BadCall where the folder, a piece or a text is not there,
    or `out` is; NotWorkable and Stopped as indexing does.
    """
    if (folder is None) == (not chosen):
        raise BadCall("draft-family takes a folder of pieces that are known to be good, or such pieces by --piece.")
    if folder is not None and not folder.is_dir():
        raise BadCall(f"{folder} is no folder. draft-family takes a folder of pieces that are known to be good.")
    if len(chosen) > MOST_CHOSEN:
        raise BadCall(f"A draft is made from at most {MOST_CHOSEN} chosen pieces.")
    if out is not None and os.path.lexists(out):
        raise BadCall(f"{out} is there already, and a draft never takes a file's place. Name another.")
    saved = [_saved(one) for one in identity]
    texts = [one for one in saved if isinstance(one, Text)]
    dumps = [one for one in saved if isinstance(one, Piece)]
    shas: tuple[str, ...] = ()
    if folder is not None:
        pieces, found, said = _read(folder, progress or Quiet())
        name, root = folder.resolve().name or str(folder), os.path.abspath(folder)  # noqa: PTH100
    else:
        with Store.open(context.catalogue) as store:
            shas = tuple(dict.fromkeys(whole_hash(store, one) for one in chosen))
            pieces, found, said = _taken(store, shas, None)
        name, root = f"{len(shas)} chosen pieces", ""
    held = {one.sha256 for one in pieces}
    pieces = (*pieces, *(one for one in dumps if one.sha256 not in held))
    given = drafting.Given(name, pieces, (*texts, *found), context.today, SUMS, root=root, chosen=shas)
    made = replace(drafting.draft(given), said=tuple(said))
    if out is None:
        return made
    try:
        with out.open("x", encoding="utf-8", newline="\n") as file:
            file.write(made.text)
    except FileNotFoundError as error:
        raise BadCall(f"There is no folder to write {out} in.") from error
    return replace(made, file=str(out))


def _saved(file: Path) -> Text | Piece:
    """A saved text or log; or a dump, which is bytes."""
    data = data_of(file)
    if is_bytes(data):
        sha256 = hashlib.sha256(data).hexdigest()
        return Piece(sha256, file.name, (file.name,), ("",), "opaque", data)
    return Text(file.name, tuple(text_of(data).splitlines()), saved=True, sha256=hashlib.sha256(data).hexdigest())


def _read(folder: Path, progress: Progress) -> tuple[tuple[Piece, ...], list[Text], list[str]]:
    with tempfile.TemporaryDirectory(prefix="kitproof-draft-") as scratch, Store.open(
        str(Path(scratch) / "draft.sqlite")
    ) as store:
        summary = indexing.index(store, [folder], progress)
        said = [f"{one.place}: {one.why}" for one in summary.unreadable]
        every = [sha for sha, _size, kind in store.all_pieces() if not kind.startswith(("archive/", "checksum-list"))]
        if len(every) > MOST_PIECES:
            said.append(f"The folder holds {len(every)} pieces; {MOST_PIECES} were looked at.")
        pieces, texts, more = _taken(store, every[:MOST_PIECES], folder)
        return pieces, texts, [*said, *more]


def _taken(
    store: Store, shas: Sequence[str], folder: Path | None
) -> tuple[tuple[Piece, ...], list[Text], list[str]]:
    """Pieces of a store with their bytes; the texts among them; what was left out."""
    pieces: list[Piece] = []
    texts: list[Text] = []
    said: list[str] = []
    whole.deepen(store, shas)
    facts = evidence.facts(store, shas)
    held = 0
    for sha, data in fetch.each(store, sorted(facts), MOST_PIECE):
        one = facts[sha]
        held += len(data or b"")
        if data is None or held > MOST_BYTES:
            said.append(f"{_shown(one.places[0], folder)} was left out: changed, gone, or too much to hold.")
            continue
        piece = _piece(one, data, folder)
        pieces.append(piece)
        if one.info.kind == "text" and len(texts) < MOST_TEXTS:
            lines = tuple(text_of(data[:MOST_TEXT]).splitlines())
            texts.append(Text(piece.places[0], lines, bundles=piece.bundles, sha256=sha))
    pieces.sort(key=lambda one: (one.places, one.sha256))
    texts.sort(key=lambda one: (one.name, one.sha256))
    return tuple(pieces), texts, said


def _piece(facts: PieceFacts, data: bytes, folder: Path | None) -> Piece:
    first = facts.places[0]
    name = (first.inside[-1] if first.inside else first.path).replace("\\", "/").rsplit("/", 1)[-1]
    return Piece(
        sha256=facts.info.sha256,
        name=name,
        places=tuple(_shown(one, folder) for one in facts.places),
        bundles=tuple(dict.fromkeys(_bundle(one) for one in facts.places)),
        kind=facts.info.kind,
        data=data,
        images=tuple(image for part in facts.reading.parts if (image := _image(part)) is not None),
        versions=facts.info.versions,
    )


def _shown(place: Place, folder: Path | None) -> str:
    outer = os.path.relpath(place.path, os.path.abspath(folder)) if folder is not None else place.path  # noqa: PTH100
    return INTO.join((outer.replace(os.sep, "/"), *place.inside))


def _bundle(place: Place) -> str:
    return os.path.basename(place.path) if place.inside else ""  # noqa: PTH119


def _image(part: Reading) -> RomImage | None:
    """One image of an option ROM as a draft needs it; None for what names no card."""
    fields = {one.name: one for one in part.fields}
    vendor, device, code = (_number(fields[name].value) if name in fields else None
                            for name in ("vendor_id", "device_id", "class_code"))  # fmt: skip
    if not part.kind.startswith("option-rom/") or vendor is None or device is None:
        return None
    class_at = fields["class_code"].offset if code is not None else None
    return RomImage(part.kind, vendor, device, code, fields["vendor_id"].offset or part.offset, class_at or part.offset)


def _number(value: FieldValue) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) else None
