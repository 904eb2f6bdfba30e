"""The part of a draft that describes pieces: roles, the EEPROM layout, releases."""

from __future__ import annotations

from collections.abc import Mapping

from catalogue.families.drafting.given import Piece, RomImage
from catalogue.families.drafting.layouts import SeenLayout
from catalogue.families.drafting.page import Page, quote, quotes
from catalogue.families.drafting.releases import SeenRelease
from catalogue.families.drafting.roles import BENCH, EEPROM, FIRMWARE, NOTES, ORDER, ROMS, WRITER, Sorted
from catalogue.families.drafting.telling import telling_texts
from catalogue.families.drafting.versions import SeenVersion

Versions = Mapping[str, SeenVersion | None]
LAYOUT = "eeprom"
MOST_LEFT = 30
MOST_SHOWN = 6
MOST_DIGESTS = 1_000
"""Digests of one draft: a family file is bounded, and one of a known-good folder has a few dozen."""


def roles(page: Page, found: Sorted, versions: Versions, layout: SeenLayout | None) -> None:
    """`[role.NAME]` for every role that has a piece."""
    for role in ORDER:
        held = found.roles.get(role, ())
        if not held:
            page.ask(f"no-{role}", f"does a kit for this card need a piece for {role}?", "the folder holds none",
                     f"draft again with one in the folder, or write [role.{role}], or leave it out")  # fmt: skip
            continue
        page.put(f"[role.{role}]")
        if role not in (WRITER, NOTES):
            page.put("written = true", f"{held[0].places[0]}, which is no program and no text")
        _kind(page, role, held)
        seen = versions.get(role)
        decide = ["hash", *(["ids"] if role in ROMS.values() else []), *(["has"] if role == WRITER and seen else [])]
        if role == EEPROM:
            decide = ["layout"]
        page.put(f"decide = {quotes(decide)}", "its kind, its digests in the releases below")
        if role in ROMS.values():
            page.put('ids = "to"', held[0].at(_image(held[0], role).at))
        if role == EEPROM:
            page.put(f"layout = {quote(LAYOUT)}", held[0].places[0])
        if role == WRITER and seen:
            page.put(f"has = {quote(seen.before)}", seen.source)
        if seen and role != EEPROM:
            page.put(f"version = {quote(seen.pattern)}", seen.source)
        _companions(page, role, found)
        _role_asks(page, role, held, seen, found)
    left = [(piece, why) for piece, why in found.left if layout is None or piece not in layout.images]
    for piece, why in left[:MOST_LEFT]:
        page.note(f"no role: {piece.places[0]} ({piece.kind}): {why}")
    if len(left) > MOST_LEFT:
        page.note(f"no role: {len(left) - MOST_LEFT} more")


def _kind(page: Page, role: str, held: tuple[Piece, ...]) -> None:
    if role == WRITER:
        kinds = {BENCH[one.kind]: one for one in reversed(held)}
        benches = [bench for bench in BENCH.values() if bench in kinds]
        table = ", ".join(f"{bench} = {quote(kinds[bench].kind)}" for bench in benches)
        page.put(f"kind = {{ {table} }}", ", ".join(kinds[bench].places[0] for bench in benches))
    elif role == NOTES:
        page.put('kind = "text"', held[0].places[0])
    elif role in ROMS.values():
        image = _image(held[0], role)
        page.put(f"kind = {quote(image.kind)}", held[0].at(image.at))


def _image(piece: Piece, role: str) -> RomImage:
    """The image by which a piece came to its role."""
    return next(one for one in piece.images if ROMS.get(one.kind) == role)


def _companions(page: Page, role: str, found: Sorted) -> None:
    if role != WRITER or not found.companions:
        return
    benches = dict.fromkeys(one.bench for one in found.companions)
    table = ", ".join(
        f"{bench} = {quotes([one.name for one in found.companions if one.bench == bench])}" for bench in benches
    )
    page.put(f"with = {{ {table} }}", ", ".join(one.source for one in found.companions))


def _role_asks(page: Page, role: str, held: tuple[Piece, ...], seen: SeenVersion | None, found: Sorted) -> None:
    if role == FIRMWARE:
        texts = telling_texts(held)
        seen_texts = "; ".join(texts[:MOST_SHOWN]) or "none seen"
        page.ask(f"has-{role}", f"which text in it tells the modes apart? {seen_texts}",
                 "which mode a text stands for is not in the bytes",
                 'write has = { MODE = "TEXT", MODE = "TEXT" } here and "has" into decide')  # fmt: skip
        sizes = sorted({one.size for one in held})
        shown = ", ".join(map(str, sizes[:MOST_SHOWN]))
        page.ask(f"size-{role}", f"how small and how large can it be? Here: {shown}",
                 "the pieces here do not show the bounds",
                 "write size = [LEAST, MOST] here, or leave it out")  # fmt: skip
        page.ask(f"lowest-{role}", "which is the lowest version that the board takes?",
                 "a version that harms leaves no mark", 'write lowest = "..." here, or leave it out')  # fmt: skip
    if role == WRITER:
        beside = [piece.name for piece, _why in found.left if any(_near(piece, one) for one in held)]
        if beside:
            names = ", ".join(beside[:MOST_SHOWN])
            page.ask("companions", f"does the utility need a file beside it? There lie {names}",
                     "no text and no byte of the utility speaks of them",
                     'write with = { BENCH = ["NAME"] } here, or leave it out')  # fmt: skip
    if seen is None and role not in (EEPROM, NOTES):
        page.ask(f"version-{role}", "behind which text does its version stand?",
                 "its pieces share no text before a dotted number",
                 'write version = "TEXT {version}" here, or leave it out')  # fmt: skip


def _near(piece: Piece, writer: Piece) -> bool:
    folders = {place.rsplit("/", 1)[0] for place in writer.places}
    return any(place.rsplit("/", 1)[0] in folders for place in piece.places)


def layout(page: Page, seen: SeenLayout | None) -> None:
    """`[layout.NAME]`, where images were found."""
    if seen is None:
        return
    first = seen.images[0]
    page.put(f"[layout.{LAYOUT}]")
    page.put(f"size = {seen.size}", f"{first.places[0]}, its length")
    if seen.magic:
        page.put(f'magic = {{ at = {seen.magic_at}, hex = "{seen.magic.hex(" ").upper()}" }}', first.at(seen.magic_at))
        page.ask("magic", f"is that the whole mark of such an image? {len(seen.images)} images share their first "
                 f"{seen.agree} bytes", "what all images share need not be a mark",
                 "lengthen or shorten hex, or leave it")  # fmt: skip
    else:
        page.ask("magic", "by which bytes is such an image known?", "the images share no four bytes that would do",
                 'write magic = { at = N, hex = "..." } here')  # fmt: skip
    if seen.sum is not None:
        place = f"total = {seen.sum.total}" if seen.sum.at is None else f"at = {seen.sum.at:#x}"
        page.put(f'sum = {{ as = "{seen.sum.form}", from = 0, to = {seen.sum.end:#x}, {place} }}', seen.sum.source)
    else:
        page.ask("sum", "which sum guards such an image?", "none that was tried holds for two differing images here",
                 "write sum = { ... } here, or leave it out")  # fmt: skip
    if seen.fields:
        page.put("field = [")
        for one in seen.fields:
            length = f", length = {one.length}" if one.form in ("ascii", "bytes") else ""
            page.put(f'  {{ at = {one.at:#04x}, as = "{one.form}"{length}, is = "{one.means}" }},', one.source)
        page.put("]")
    for place in seen.elsewhere[:MOST_LEFT]:
        page.note(f"found at another place too: {place}")
    if len(seen.images) > 1:
        backups = ", ".join(one.places[0] for one in seen.dumps[:MOST_SHOWN]) or "none"
        templates = ", ".join(one.places[0] for one in seen.templates[:MOST_SHOWN]) or "none"
        page.ask("template", "which image is a template, which a backup of a card? "
                 f"With the card's address: {backups}; with an empty identity: {templates}",
                 "who made a file, and what for, is not in it",
                 "see that no backup stands in a release below")  # fmt: skip


def releases(page: Page, seen: tuple[SeenRelease, ...], versions: Versions) -> None:
    """`[[release]]`, one a bundle."""
    room = MOST_DIGESTS
    for number, one in enumerate(seen, 1):
        room -= sum(map(len, one.claims.values()))
        if room < 0:
            page.ask("more", f"which releases of the {len(seen) - number + 1} bundles from {one.name} on count?",
                     "a draft holds a bounded number of digests", "draft from a smaller folder")  # fmt: skip
            break
        page.put("[[release]]")
        page.put(f"name = {quote(one.name)}", "the bundle's name")
        if one.day is not None:
            page.put(f"date = {one.day.isoformat()}", one.day_source)
        else:
            page.ask(f"date-{number}", f"on which day was {one.name} published?", "its texts say no day, or several",
                     "write date = YYYY-MM-DD here")  # fmt: skip
        for role, held in one.claims.items():
            _claim(page, role, held, versions.get(role))
    page.ask("bundles", "is every bundle here one release, whole, with nothing of another?",
             "what lies together need not belong together", "take out or join releases above")  # fmt: skip
    page.ask("withdrawn", "did the maker take a version back?", "a piece does not know what became of it",
             "write [[withdrawn]] with role, version or sha256, why and source")  # fmt: skip
    page.ask("ran", "did all these pieces really run on a card?", "bytes do not say where they have been",
             "take out what never ran")  # fmt: skip


def _claim(page: Page, role: str, held: tuple[Piece, ...], seen: SeenVersion | None) -> None:
    values = {seen.values.get(one.sha256, "") for one in held} if seen else {""}
    version = values.pop() if len(values) == 1 else ""
    said = f"version = {quote(version)}, " if version else ""
    page.put(f"{role} = {{ {said}sha256 = [")
    for one in held:
        page.put(f'  "{one.sha256}",', one.places[0])
    page.put("] }")
