"""The images of a piece as the criteria ask them: what each is for, whom it names, where it says so."""

from __future__ import annotations

from dataclasses import dataclass, replace

from catalogue.shapes.reading import CardId, Field, Reading

OPTION_ROM = "option-rom"


@dataclass(frozen=True, slots=True)
class Image:
    """One image. `vendor` is None where it names no card; `devices` is its own list, or that of a sibling of its name.

    `hidden`: it lies after a last-image bit, so system firmware never reaches it. `part` is its reading.
    `cards` are every vendor and device it names; empty for vendor 0000h, which is nobody's.
    """

    kind: str
    vendor: int | None
    device: int | None
    devices: tuple[int, ...]
    class_code: int | None
    hidden: bool
    part: Reading
    cards: frozenset[tuple[int, int]] = frozenset()

    def field(self, name: str) -> Field:
        """The field called `name` of its reading, or one that stands nowhere."""
        return next((one for one in self.part.fields if one.name == name), Field(name, None, self.part.offset))


def images_of(reading: Reading) -> tuple[Image, ...]:
    """The images of `reading`: those of an option ROM in their order, else one for each card the piece names."""
    if not reading.kind.startswith(OPTION_ROM):
        return tuple(_named(reading, one, False) for one in reading.ids) if reading.ids else ()
    images: list[Image] = []
    ended = False
    for part in reading.parts or (reading,):
        card = part.ids[0] if part.ids else None
        hidden = ended or part.value("hidden") is True
        ended = ended or part.value("last_image") is True
        if card is None:
            images.append(Image(part.kind, None, None, (), None, hidden, part))
        else:
            images.append(_named(part, card, hidden))
    return tuple(_with_list(one, images) for one in images)


def _named(part: Reading, card: CardId, hidden: bool) -> Image:
    """An image that names `card`."""
    devices = (card.device, *card.devices) if card.vendor else ()
    cards = frozenset((card.vendor, device) for device in devices)
    return Image(part.kind, card.vendor, card.device, card.devices, card.class_code, hidden, part, cards)


def _with_list(image: Image, images: list[Image]) -> Image:
    """`image`, or, where it has no device list, with that of a sibling that names the same vendor and device."""
    if image.devices or not image.vendor:
        return image
    for other in images:
        if other.devices and (other.vendor, other.device) == (image.vendor, image.device):
            return replace(image, devices=other.devices, cards=image.cards | other.cards)
    return image
