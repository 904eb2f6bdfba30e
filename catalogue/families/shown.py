"""A card's IDs out of what a person pastes: PCI listings, Windows hardware IDs, configuration-space dumps, bare IDs.

Sources of the forms: lspci(8) of pciutils 3.9 (`-n`, `-nn`, `-v`, `-k`, `-x`, `-m`, `-vm`, `-t`), the Linux kernel's
PCI modalias and uevent, Microsoft's "Identifiers for PCI Devices" (SUBSYS_ is subsystem, then its vendor), the UEFI
Shell's `pci` command (from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from catalogue.families.config_space import DEVICE, REVISION, VENDOR, Dump, class_of, rows_of, subsystem_of, word
from catalogue.families.limits import MAX_SHOWN_CARDS, MAX_SHOWN_TEXT

MAX_LINE = 2_000
MAX_WORDS = 200
"""Characters of a line that are kept to show what was read."""

_H4 = "[0-9A-Fa-f]{4}"
_HEADING = re.compile(r"(?:[0-9A-Fa-f]{4,8}:)?[0-9A-Fa-f]{2}:[0-9A-Fa-f]{2}\.[0-7]\s")
_PAIR = re.compile(rf"(?<![0-9A-Za-z:._])({_H4}):({_H4})(?:/({_H4}):({_H4}))?(?![0-9A-Za-z:])")
_SUBSYSTEM_LINE = re.compile(rf"\s*Subsystem:.*?(?<![0-9A-Za-z:])({_H4}):({_H4})\]?\s*", re.IGNORECASE)
_SUBSYSTEM_WORD = re.compile(r"[\s(,;/\[]*\b(?:subsystem|subsys|sub)\b", re.IGNORECASE)
_CLASS = re.compile(rf"\[({_H4})\]: |^\S+ ({_H4}): ")
_REVISION = re.compile(r"\(rev ([0-9A-Fa-f]{2})\b|\s-r([0-9A-Fa-f]{2})\b")
_INTERFACE = re.compile(r"\(prog-if ([0-9A-Fa-f]{2})\b")
_WINDOWS = re.compile(
    rf"(?:PCI\\|(?<![\w&\\]))VEN_({_H4})&DEV_({_H4})(?:&SUBSYS_({_H4})({_H4}))?(?:&REV_([0-9A-Fa-f]{{2}}))?(?:&CC_([0-9A-Fa-f]{{6}}))?",
    re.IGNORECASE,
)
_MODALIAS = re.compile(
    r"pci:v([0-9A-F]{8})d([0-9A-F]{8})sv([0-9A-F]{8})sd([0-9A-F]{8})bc([0-9A-F]{2})sc([0-9A-F]{2})i([0-9A-F]{2})", re.I
)
_PREFIXED = re.compile(rf"0x({_H4})\b[\s,:/]+0x({_H4})\b(?:[\s,:/]+0x({_H4})\b[\s,:/]+0x({_H4})\b)?", re.IGNORECASE)
_TWO_WORDS = re.compile(rf"\s*({_H4})\s+({_H4})\s*")
_SHELL = re.compile(rf"\bVendor\s+({_H4})\s+Device\s+({_H4})\b")
_MACHINE = re.compile(r'^\S+((?:\s+(?:"[^"]*"|-[rp][0-9A-Fa-f]+))+)\s*$')
_QUOTED = re.compile(r'"([^"]*)"')
_TAIL_ID = re.compile(rf"(?:0x|\[)?({_H4})\]?$")
_KEYS = {
    "slot": "slot",
    "vendor": "vendor",
    "vendor id": "vendor",
    "device": "device",
    "device id": "device",
    "svendor": "subvendor",
    "subsystem vendor id": "subvendor",
    "sdevice": "subdevice",
    "subsystem id": "subdevice",
    "pci_id": "pair",
    "pci_subsys_id": "subpair",
}
_KEY_LINE = re.compile(r"\s*([A-Za-z_][A-Za-z_ ]{0,30})\s*[:=]\s*(\S.*?)\s*$")


@dataclass(frozen=True, slots=True)
class ShownCard:
    """A card as it shows itself. `class_code` is 24 bits, where all three bytes were shown; `text` is the line read.

    `revision` is the PCI revision (configuration space, 08h); a listing leaves out 00h, so None may be that.
    """

    vendor: int
    device: int
    subvendor: int | None = None
    subdevice: int | None = None
    class_code: int | None = None
    text: str = ""
    revision: int | None = None


def parse(text: str) -> tuple[ShownCard, ...]:
    """Every card that `text` shows, in its order, each once; empty where it shows none.

    Bounded: MAX_SHOWN_TEXT characters and MAX_SHOWN_CARDS cards are read.
    """
    reader = _Reader()
    for line in text[:MAX_SHOWN_TEXT].splitlines():
        if len(reader.cards) >= MAX_SHOWN_CARDS:
            break
        reader.line(line[:MAX_LINE].replace("\0", " "))
    reader.close()
    return _once(reader.cards)[:MAX_SHOWN_CARDS]


def _once(cards: Iterable[ShownCard]) -> tuple[ShownCard, ...]:
    """Each card once; one without a subsystem goes where another has the same IDs and a subsystem."""
    out: list[ShownCard] = []
    for card in cards:
        ids = (card.vendor, card.device)
        sub = (card.subvendor, card.subdevice)
        same = [n for n, one in enumerate(out) if (one.vendor, one.device) == ids]
        equal = [n for n in same if (out[n].subvendor, out[n].subdevice) == sub]
        if equal:
            was = out[equal[0]]
            code = card.class_code if was.class_code is None else was.class_code
            revision = card.revision if was.revision is None else was.revision
            out[equal[0]] = replace(was, class_code=code, revision=revision)
        elif sub == (None, None) and same:
            continue
        else:
            bare = next((n for n in same if out[n].subvendor is None), None)
            if bare is None:
                out.append(card)
            else:
                out[bare] = card
    return tuple(out)


def _words(line: str) -> str:
    return " ".join(line.split())[:MAX_WORDS]


class _Reader:
    """Reads line by line. A listing's heading opens a block that lasts to a blank line or the next heading."""

    def __init__(self) -> None:
        self.cards: list[ShownCard] = []
        self.block = False
        self.current: int | None = None
        self.dump: Dump | None = None
        self.dump_lines: list[str] = []
        self.keys: dict[str, int] = {}
        self.key_text = ""

    def line(self, line: str) -> None:
        if not line.strip():
            self.close()
            return
        heading = _HEADING.match(line)
        if heading:
            self.close()
            self.block = True
            self.heading(line)
        elif not self.row(line):
            self.end_dump()
            self.other(line)

    def row(self, line: str) -> bool:
        """Take a line as a row of a dump, if it is one."""
        ways = rows_of(line)
        if not ways:
            return False
        if self.dump is not None:
            if self.dump.add(ways):
                self.dump_lines.append(line)
                return True
            self.end_dump()
        dump = Dump()
        if not dump.add(ways):
            return False
        self.dump, self.dump_lines = dump, [line]
        return True

    def other(self, line: str) -> None:
        """A line that is neither a heading nor a row."""
        found = _SUBSYSTEM_LINE.fullmatch(line)
        if found:
            self.subsystem(int(found.group(1), 16), int(found.group(2), 16))
        elif not (self.block and line[:1].isspace()) and not self.key(line):
            self.free(line)

    def close(self) -> None:
        """A block ends."""
        self.end_dump()
        self.end_keys()
        self.block, self.current = False, None

    def add(self, card: ShownCard) -> None:
        if card.vendor not in {0, 0xFFFF}:
            self.cards.append(card)
            self.current = len(self.cards) - 1

    def heading(self, line: str) -> None:
        machine = _MACHINE.match(line)
        if machine:
            self.machine(line)
            return
        pairs = list(_PAIR.finditer(line))
        if pairs:
            card = _of_pair(pairs[0], line, pairs[1] if len(pairs) > 1 else None, _class_of(line))
            self.add(replace(card, revision=_revision_of(line)))

    def machine(self, line: str) -> None:
        """A line of `lspci -m`: class, vendor, device, subsystem vendor, subsystem in quotes."""
        ids = [int(one.group(1), 16) if (one := _TAIL_ID.search(part)) else None for part in _QUOTED.findall(line)]
        _, vendor, device, subvendor, subdevice = (*ids, None, None, None, None, None)[:5]
        if vendor is not None and device is not None:
            sub = None if subvendor is None or subdevice is None else (subvendor, subdevice)
            self.add(replace(_card(vendor, device, sub, None, _words(line)), revision=_revision_of(line)))

    def subsystem(self, subvendor: int, subdevice: int) -> None:
        if self.current is not None and self.cards[self.current].subvendor is None:
            self.cards[self.current] = replace(self.cards[self.current], subvendor=subvendor, subdevice=subdevice)

    def key(self, line: str) -> bool:
        """A line of "key: value" or "key=value", as several systems print one card."""
        found = _KEY_LINE.match(line)
        name = _KEYS.get(found.group(1).strip().lower()) if found else None
        if found is None or name is None:
            return False
        value = found.group(2)
        if name in self.keys and name in {"slot", "vendor", "pair"}:
            self.end_keys()
        if name in {"pair", "subpair"}:
            pair = _PAIR.fullmatch(value)
            if pair:
                first, second = ("vendor", "device") if name == "pair" else ("subvendor", "subdevice")
                self.keys |= {name: 0, first: int(pair.group(1), 16), second: int(pair.group(2), 16)}
                self.key_text = self.key_text or _words(line)
            return bool(pair)
        if _PAIR.search(value):
            return False
        number = _TAIL_ID.search(value)
        if name == "slot" or number:
            self.keys[name] = int(number.group(1), 16) if number else 0
            self.key_text = self.key_text or _words(line)
        return True

    def end_keys(self) -> None:
        keys, self.keys = self.keys, {}
        if "vendor" in keys and "device" in keys:
            sub = (keys["subvendor"], keys["subdevice"]) if "subvendor" in keys and "subdevice" in keys else None
            self.add(_card(keys["vendor"], keys["device"], sub, None, self.key_text))
        self.key_text = ""

    def end_dump(self) -> None:
        dump, self.dump = self.dump, None
        if dump is None:
            return
        data = dump.content()
        if data is None:  # no dump after all: hex digits that may still be bare IDs
            for line in self.dump_lines:
                self.other(line)
            return
        sub = subsystem_of(data)
        card = _card(word(data, VENDOR), word(data, DEVICE), sub, class_of(data), "configuration space dump")
        card = replace(card, revision=data[REVISION] if len(data) > REVISION else None)
        if self.block and self.current is not None:
            shown = self.cards[self.current]
            if (shown.vendor, shown.device) == (card.vendor, card.device):
                whole = replace(card, text=shown.text)
                if card.subvendor is None:
                    whole = replace(whole, subvendor=shown.subvendor, subdevice=shown.subdevice)
                self.cards[self.current] = whole
                return
        self.add(card)

    def free(self, line: str) -> None:
        """A line that is no listing's heading: hardware IDs, bare IDs."""
        for windows in _WINDOWS.finditer(line):
            vendor, device, subdevice, subvendor, revision, code = _numbers(windows)
            self.add(ShownCard(vendor or 0, device or 0, subvendor, subdevice, code, _words(line), revision))
        for alias in _MODALIAS.finditer(line):
            ids = [int(one, 16) & 0xFFFF for one in alias.groups()]
            self.add(_card(ids[0], ids[1], (ids[2], ids[3]), ids[4] << 16 | ids[5] << 8 | ids[6], _words(line)))
        last_end = 0
        for pair in _PAIR.finditer(line):
            between = line[last_end : pair.start()]
            if last_end and _SUBSYSTEM_WORD.search(between):
                self.subsystem(int(pair.group(1), 16), int(pair.group(2), 16))
            else:
                self.add(_of_pair(pair, line, None, None))
            last_end = pair.end()
        for one in (*_PREFIXED.finditer(line), *_SHELL.finditer(line)):
            vendor, device, subvendor, subdevice = (*_numbers(one), None, None)[:4]
            self.add(ShownCard(vendor or 0, device or 0, subvendor, subdevice, None, _words(line)))
        bare = _TWO_WORDS.fullmatch(line)
        if bare:
            self.add(ShownCard(int(bare.group(1), 16), int(bare.group(2), 16), None, None, None, _words(line)))


def _numbers(found: re.Match[str]) -> list[int | None]:
    return [int(one, 16) if one else None for one in found.groups()]


def _card(vendor: int, device: int, sub: tuple[int, int] | None, code: int | None, text: str) -> ShownCard:
    """A card; a subsystem of 0000:0000 or FFFF:FFFF is none."""
    subvendor, subdevice = sub if sub not in {None, (0, 0), (0xFFFF, 0xFFFF)} and sub else (None, None)
    return ShownCard(vendor, device, subvendor, subdevice, code, text)


def _of_pair(pair: re.Match[str], line: str, second: re.Match[str] | None, code: int | None) -> ShownCard:
    vendor, device, subvendor, subdevice = _numbers(pair)
    if second is not None and subvendor is None:
        subvendor, subdevice = int(second.group(1), 16), int(second.group(2), 16)
    return ShownCard(vendor or 0, device or 0, subvendor, subdevice, code, _words(line))


def _revision_of(line: str) -> int | None:
    """The PCI revision that a heading shows, as "(rev 05)" or, for machines, as -r05."""
    found = _REVISION.search(line)
    return int(found[1] or found[2], 16) if found else None


def _class_of(line: str) -> int | None:
    """The class code of a heading, where the programming interface is shown too."""
    found, interface = _CLASS.search(line), _INTERFACE.search(line)
    if not found or not interface:
        return None
    return int(found.group(1) or found.group(2), 16) << 8 | int(interface.group(1), 16)
