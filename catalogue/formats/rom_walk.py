"""The walk over an option ROM: from image to image by their lengths, and a look at what lies between and behind.

PCI Firmware Specification 3.x, section 5.1. What a walk makes of padding, of a missing last-image bit and of images
behind one that has it is common practice, no published source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from catalogue.formats import rom_image
from catalogue.formats.fill import look
from catalogue.formats.image_draft import Image
from catalogue.formats.limits import MAX_IMAGES, MAX_ROM_BYTES
from catalogue.formats.pci_data_structure import BLOCK
from catalogue.formats.view import View
from catalogue.shapes.reading import Fault, Field, Span

SOURCE = "PCI Firmware Specification 5.1"
_AT_ONCE = 1 << 20


@dataclass(frozen=True, slots=True)
class Walked:
    """The images in the order they lie, spans that cover the whole file once, and notes on the file as a whole."""

    images: tuple[Image, ...]
    spans: tuple[Span, ...]
    notes: tuple[Fault, ...]


def walk(view: View) -> Walked:
    """Every image of the ROM. Raises nothing but the view's own OSError."""
    images: list[Image] = []
    spans: list[Span] = []
    notes: list[Fault] = []
    limit = min(view.size, MAX_ROM_BYTES)
    at = 0
    expected = reached = True
    while at < limit and len(images) < MAX_IMAGES:
        image = rom_image.read_image(view, at) if expected or rom_image.has_header(view, at) else None
        if image is not None:
            images.append(image if reached else _hidden(image, images))
            expected = not (image.ends or image.broken)
            reached = reached and expected
            after = at + image.takes
            if image.broken:
                after = _next_header(view, at + BLOCK, limit) or view.size
                spans.append(Span(image.name, at, after - at))
            else:
                spans += image.spans
            at = after
        elif images:
            after = _next_header(view, at + BLOCK, limit) or limit
            data = _between(view, at, after, spans, notes)
            if expected:
                images[-1] = _unclosed(images[-1], at, data)
            expected = reached = False
            at = after
        else:
            break
    if not images:
        return Walked((), (), ())
    if at < view.size:
        notes.append(
            Fault("data-after-end", f"What follows {at:X}h was not looked at: too many images, or too far in.", at)
        )
        spans.append(Span("not looked at", at, view.size - at))
    elif expected:
        images[-1] = _unclosed(images[-1], at, False)
    names = {(image.reading.value("vendor_id")) for image in images} - {None, 0}
    if len(names) > 1:
        notes.append(Fault("rom-odd", f"The images name {len(names)} different vendors.", 0))
    return Walked(tuple(images), tuple(spans), tuple(notes))


def _next_header(view: View, start: int, limit: int) -> int | None:
    """The first place from `start`, at steps of 512 bytes, where an image plainly begins."""
    for block_at in range(start, limit, _AT_ONCE):
        block = view.at(block_at, min(_AT_ONCE, limit - block_at))
        firsts = block[::BLOCK]
        step = firsts.find(0x55)
        while step >= 0:
            if rom_image.has_header(view, block_at + step * BLOCK):
                return block_at + step * BLOCK
            step = firsts.find(0x55, step + 1)
    return None


def _between(view: View, start: int, end: int, spans: list[Span], notes: list[Fault]) -> bool:
    """Spans and notes for [start, end), where no image begins; whether anything but padding lies there."""
    stretch = look(view, start, end)
    if stretch.data_start == stretch.data_end:
        spans.append(Span("padding", start, end - start))
        notes.append(Fault("rom-odd", f"{end - start} bytes of padding follow the image before them.", start))
        return False
    if start < stretch.data_start:
        spans.append(Span("padding", start, stretch.data_start - start))
    length = stretch.data_end - stretch.data_start
    spans.append(Span("data after the end", stretch.data_start, length))
    if stretch.data_end < end:
        spans.append(Span("padding", stretch.data_end, end - stretch.data_end))
    notes.append(
        Fault(
            "data-after-end",
            f"{length} bytes that belong to no image follow the image before them.",
            stretch.data_start,
        )
    )
    return True


def _unclosed(image: Image, at: int, data: bool) -> Image:
    """The image before `at`, which says that another follows where none does."""
    reading = image.reading
    if data:
        length = next(one for one in reading.fields if one.name == "length")
        fault = Fault("rom-damaged", f"No image begins at {at:X}h, where this one's length leads.", length.offset)
        return replace(image, reading=replace(reading, faults=(*reading.faults, fault)))
    last = next(one for one in reading.fields if one.name == "last_image")
    note = Fault("rom-odd", "No image follows, yet the last-image bit is not set.", last.offset)
    return replace(image, reading=replace(reading, notes=(*reading.notes, note)))


def _hidden(image: Image, before: list[Image]) -> Image:
    """`image` marked as one that system firmware would not reach, with what keeps it from it."""
    why = next(one for one in before if one.ends or one.broken or one is before[-1])
    marked = why.reading.value("last_image") is True
    wanted = "last_image" if marked else "length"
    blame = next((one for one in why.reading.fields if one.name == wanted), Field(wanted, None, why.reading.offset))
    text = "System firmware would not reach this image: an earlier one "
    text += "is marked as the last." if marked else "does not lead to it."
    reading = image.reading
    fields = (*reading.fields, Field("hidden", True, blame.offset, blame.length, text, SOURCE))
    notes = (*reading.notes, Fault("image-hidden", text, blame.offset))
    return replace(image, reading=replace(reading, fields=fields, notes=notes))
