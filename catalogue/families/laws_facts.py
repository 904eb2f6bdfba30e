"""Laws of layouts and modes (family-file.md, "Laws")."""

from __future__ import annotations

from itertools import combinations

from catalogue.families.law import Broken, Told
from catalogue.families.model import ANY_MODE, Family, Mode, Role
from catalogue.families.patterns import find_text
from catalogue.families.read_layouts import MODE_MEANINGS, SUM_WIDTHS
from catalogue.shapes.layout import Layout


def layout_fields_fit(family: Family) -> Told:
    """A layout's magic and fields lie inside its size, no two fields overlap, and none means what another means.

    Fine: fields at 10h and 12h, two bytes each. Refused: a field of 16 bytes at 138h of 140h.
    """
    for layout in family.layouts.values():
        at = f"layout.{layout.name}"
        if layout.magic_at + len(layout.magic) > layout.size:
            yield Broken(f"{at}.magic", f"layout {layout.name}: the magic ends beyond the size, {layout.size} bytes")
        meanings: set[str] = set()
        for index, field in enumerate(layout.fields):
            if field.at + field.length > layout.size:
                yield Broken(
                    f"{at}.field[{index}]",
                    f"layout {layout.name}: {field.means} ends at {field.at + field.length:#x}, beyond the size "
                    f"{layout.size:#x}",
                )
            if field.means in meanings:
                yield Broken(f"{at}.field[{index}]", f"layout {layout.name} has two fields for {field.means}")
            meanings.add(field.means)
            for other in layout.fields[:index]:
                if field.at < other.at + other.length and other.at < field.at + field.length:
                    yield Broken(
                        f"{at}.field[{index}]",
                        f"layout {layout.name}: {field.means} at {field.at:#x} overlaps {other.means} at {other.at:#x}",
                    )


def layout_sum_fits(family: Family) -> Told:
    """A layout's sum has a range inside the size, and is stored inside the size but outside that range.

    Fine: `from = 0, to = 0x13F, at = 0x13F`. Refused: `to` beyond the size, `at` inside the range, words over an odd
    number of bytes.
    """
    for layout in family.layouts.values():
        at = f"layout.{layout.name}.sum"
        for text in _sum_faults(layout):
            yield Broken(at, f"layout {layout.name}: {text}")


def _sum_faults(layout: Layout) -> list[str]:
    one = layout.sum
    if one is None:
        return []
    out = []
    if one.start >= one.end:
        out.append(f"the sum's range is empty, from {one.start:#x} to {one.end:#x} (its end is exclusive)")
    if one.end > layout.size:
        out.append(f"the sum's range ends at {one.end:#x}, beyond the size {layout.size:#x}")
    if one.kind.startswith("sum16") and (one.end - one.start) % 2:
        out.append("a sum of 16-bit words needs an even number of bytes")
    if one.at is not None:
        end = one.at + SUM_WIDTHS[one.kind]
        if end > layout.size:
            out.append(f"the sum is stored at {one.at:#x}, where it ends beyond the size {layout.size:#x}")
        if one.at < one.end and one.start < end:
            out.append(f"the sum is stored at {one.at:#x}, inside the range that it is taken over")
    return out


def modes_differ(family: Family) -> Told:
    """Any two modes differ in some deciding criterion of some role, so that a piece for the other one can be told.

    That is: `ids` of the modes without one in common, `has` strings of which neither stands in the other, or a layout
    with a mode field in which they differ. Fine: modes 0C80h and 0C81h and a boot ROM decided by `ids = "to"`. Refused:
    two modes, and every role decided by `hash` alone.
    """
    for first, second in combinations(family.modes.values(), 2):
        if not any(_tells(family, role, first, second) for role in family.roles.values()):
            yield Broken(
                f"mode.{second.name}",
                f"nothing tells mode {first.name} from mode {second.name}: no role is decided by ids, has or a layout "
                f"in which they differ",
                ("mode", "role", "layout"),
            )


def _tells(family: Family, role: Role, first: Mode, second: Mode) -> bool:
    if "ids" in role.decide and role.ids is not None and _ids_tell(role, first, second):
        return True
    if "has" in role.decide and _strings_tell(role, first, second):
        return True
    layout = family.layouts.get(role.layout or "")
    return "layout" in role.decide and layout is not None and _layout_tells(layout, first, second)


def _pairs(mode: Mode) -> set[tuple[int, int]]:
    return {(one.vendor, one.device) for one in mode.ids}


def _ids_tell(role: Role, first: Mode, second: Mode) -> bool:
    if isinstance(role.ids, str):
        return not _pairs(first) & _pairs(second)
    listed = {(one.vendor, one.device) for one in role.ids or ()}
    return bool(_pairs(first) & listed) != bool(_pairs(second) & listed)


def _strings_tell(role: Role, first: Mode, second: Mode) -> bool:
    if ANY_MODE in role.has:
        return False
    one, other = role.has.get(first.name), role.has.get(second.name)
    if one is None or other is None:
        return one is not other
    return find_text(one.encode("ascii"), other) is None and find_text(other.encode("ascii"), one) is None


def _layout_tells(layout: Layout, first: Mode, second: Mode) -> bool:
    for field in layout.fields:
        if field.means in MODE_MEANINGS:
            name = field.means.removeprefix("mode.")
            if not {getattr(one, name) for one in first.ids} & {getattr(one, name) for one in second.ids}:
                return True
    return False


FAMILY_LAWS = (layout_fields_fit, layout_sum_fits, modes_differ)
