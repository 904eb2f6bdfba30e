"""The images of a piece as the criteria ask them: what each is for, whom it names, where it says so."""

from __future__ import annotations

from dataclasses import dataclass, replace

from catalogue.shapes.reading import Field, Reading

OPTION_ROM = "option-rom"


@dataclass(frozen=True, slots=True)
class Image:
    """One image. `vendor` is None where it names no card; `devices` is its own list, or that of a sibling of its name.

    `hidden`: it lies after a last-image bit, so system firmware never reaches it. `part` is its reading.
    """

    kind: str
    vendor: int | None
    device: int | None
    devices: tuple[int, ...]
    class_code: int | None
    hidden: bool
    part: Reading

    @property
    def cards(self) -> frozenset[tuple[int, int]]:
        """Every vendor and device it names; empty for vendor 0000h, which is nobody's."""
        if not self.vendor or self.device is None:
            return frozenset()
        return frozenset((self.vendor, device) for device in (self.device, *self.devices))

    def field(self, name: str) -> Field:
        """The field called `name` of its reading, or one that stands nowhere."""
        return next((one for one in self.part.fields if one.name == name), Field(name, None, self.part.offset))


def images_of(reading: Reading) -> tuple[Image, ...]:
    """The images of `reading`: those of an option ROM in their order, else one for each card the piece names."""
    if not reading.kind.startswith(OPTION_ROM):
        return tuple(
            Image(reading.kind, one.vendor, one.device, one.devices, one.class_code, False, reading)
            for one in reading.ids
        )
    images: list[Image] = []
    ended = False
    for part in reading.parts or (reading,):
        card = part.ids[0] if part.ids else None
        hidden = ended or part.value("hidden") is True
        ended = ended or part.value("last_image") is True
        if card is None:
            images.append(Image(part.kind, None, None, (), None, hidden, part))
        else:
            images.append(Image(part.kind, card.vendor, card.device, card.devices, card.class_code, hidden, part))
    return tuple(_with_list(one, images) for one in images)


def _with_list(image: Image, images: list[Image]) -> Image:
    """`image`, or, where it has no device list, with that of a sibling that names the same vendor and device."""
    if image.devices or not image.vendor:
        return image
    for other in images:
        if other.devices and (other.vendor, other.device) == (image.vendor, image.device):
            return replace(image, devices=other.devices)
    return image
