"""What makes a piece near a role, question by question; `near.is_near` says the same in one word.

A piece is near where any of these says yes, but for an archive: its members are asked, never it.
"""

from __future__ import annotations

from collections.abc import Iterator

from catalogue.kits.asked import Asked, Wanted
from catalogue.kits.candidate import Candidate
from catalogue.kits.criteria import NO, SILENT, YES, asked_images, at_field, place_of
from catalogue.kits.images import Image
from catalogue.shapes.finding import Evidence
from catalogue.shapes.why_not import Asking


def asked_of(asked: Asked, wanted: Wanted, candidate: Candidate, images: tuple[Image, ...]) -> tuple[Asking, ...]:
    """Every question of nearness that the role puts, with its answer."""
    made = [_pinned(asked, wanted, candidate)]
    if candidate.kind.startswith("archive/"):
        where = Evidence(place_of(candidate), "kind", 0, None, "a piece", candidate.kind)
        return (*made, Asking("archive", NO, "It is an archive; its members are asked, never it.", (where,)))
    made.append(_hash(asked, wanted, candidate))
    made += _strings(asked, wanted, candidate)
    if wanted.near:
        made.append(_ids(wanted, candidate, images))
    if wanted.layout is not None:
        made += _layout(asked, wanted, candidate)
    return tuple(made)


def _line(asked: Asked, wanted: Wanted, key: str) -> Evidence:
    name = wanted.role.name
    return Evidence(asked.line(f"role.{name}.{key}", f"role.{name}"), key)


def _pinned(asked: Asked, wanted: Wanted, candidate: Candidate) -> Asking:
    pin = next((one for one in asked.pins.get(wanted.role.name, ()) if one.sha256 == candidate.sha256), None)
    if pin is None:
        return Asking("pin", SILENT, "Nobody pinned it for this role.", (_line(asked, wanted, "role"),))
    where = Evidence(f"pin {pin.role}={pin.sha256}", "pin", None, None, "", pin.reason)
    return Asking("pin", YES, f"It is pinned: {pin.reason}", (where,))


def _hash(asked: Asked, wanted: Wanted, candidate: Candidate) -> Asking:
    releases = wanted.known.digests.get(candidate.sha256)
    if releases:
        line = asked.release_line(releases[0].name, wanted.role.name)
        where = Evidence(line, "sha256", None, None, "", candidate.sha256)
        return Asking("hash", YES, f"Its SHA-256 stands in release {releases[0].name}.", (where,))
    lists = [one for one in wanted.known.listing if one.claims[wanted.role.name].sha256]
    text = f"Its SHA-256 stands in none of the {len(lists)} releases that give one for this role."
    if not lists:
        text = "No release gives a SHA-256 for this role."
    lines = tuple(
        Evidence(
            asked.release_line(one.name, wanted.role.name),
            f"digests of {one.name}",
            None,
            None,
            candidate.sha256,
            "others",
        )
        for one in lists[:_SHOWN]
    )
    return Asking("hash", SILENT, text, lines or (_line(asked, wanted, "decide"),))


_SHOWN = 6


def _strings(asked: Asked, wanted: Wanted, candidate: Candidate) -> Iterator[Asking]:
    for text in dict.fromkeys(wanted.role.has.values()):
        match = candidate.matches.get(text)
        if match is not None:
            where = Evidence(place_of(candidate), "has", match.offset, match.length, text, text)
            yield Asking("has", YES, f'Its bytes hold "{text}".', (where,))
            continue
        where = Evidence(place_of(candidate), "has", None, None, text, "not in its bytes")
        say = f'Its bytes do not hold "{text}".'
        if not candidate.searched:
            say = f'Its bytes could not be looked through for "{text}".'
        yield Asking("has", SILENT, say, (where, _line(asked, wanted, "has")))


def _ids(wanted: Wanted, candidate: Candidate, images: tuple[Image, ...]) -> Asking:
    want = ", ".join(f"{vendor:04X}:{device:04X}" for vendor, device in sorted(wanted.near))
    right = asked_images(wanted, images)
    for image in right:
        if not image.cards.isdisjoint(wanted.near):
            have = _cards(image)
            where = at_field(candidate, image.field("device_id"), want, have)
            return Asking("ids", YES, f"An image of it names {have}.", (where,))
    if not right:
        kind = wanted.asks_images or "an image that names a card"
        where = Evidence(place_of(candidate), "kind", 0, None, kind, candidate.kind)
        return Asking("ids", SILENT, f"It holds no image of the kind {kind} that could name a card.", (where,))
    shown = tuple(at_field(candidate, one.field("device_id"), want, _cards(one) or "no card") for one in right[:_SHOWN])
    names = "; ".join(dict.fromkeys(_cards(one) or "no card" for one in right[:_SHOWN]))
    return Asking("ids", NO, f"It names {names}; the family's are {want}.", shown)


def _cards(image: Image) -> str:
    return ", ".join(f"{vendor:04X}:{device:04X}" for vendor, device in sorted(image.cards)[:_SHOWN])


def _layout(asked: Asked, wanted: Wanted, candidate: Candidate) -> Iterator[Asking]:
    layout = wanted.layout
    assert layout is not None
    answer = candidate.layouts.get(layout.name)
    magic = layout.magic.hex(" ").upper()
    held = answer is not None and answer.state != "other"
    here = Evidence(place_of(candidate), "magic", layout.magic_at, len(layout.magic), magic, "there" if held else "")
    line = Evidence(asked.line(f"layout.{layout.name}"), "layout", None, None, magic, "")
    if held and answer is not None:
        yield Asking("layout", YES, f"Layout {layout.name} knows it ({answer.state}).", (here, line))
    else:
        text = f"The magic of layout {layout.name} ({magic}) is not at {layout.magic_at:X}h, nor after a swap."
        if not candidate.searched:
            text = f"Its bytes could not be looked through for the magic of layout {layout.name}."
        yield Asking("layout", SILENT, text, (here, line))
    filled = candidate.size == layout.size and candidate.fill is not None
    size = Evidence(place_of(candidate), "size", 0, None, f"{layout.size} bytes", f"{candidate.size} bytes")
    if filled:
        text = f"It has the layout's size and is {candidate.fill:02X}h throughout."
        yield Asking("blank", YES, text, (size,))
    else:
        text = f"It is {candidate.size} bytes long; a blank image of the layout is {layout.size}, one byte throughout."
        yield Asking("blank", SILENT, text, (size,))
