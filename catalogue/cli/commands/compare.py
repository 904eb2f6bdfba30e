"""kitproof compare A B"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator

from catalogue.cli import words
from catalogue.cli.command import Answer, Command
from catalogue.cli.given import place
from catalogue.shapes.comparison import Comparison, FieldDifference, MemberDifference, RangeDifference, Side, Where
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context

MOST_LINES = 60
"""Differences of one sort that are printed; JSON has them all."""
MOST_BYTES = 12


def _arguments(parser: ArgumentParser) -> None:
    what = "a file or folder (indexed or not), or a hash or its unique beginning"
    for name in ("a", "b"):
        parser.add_argument(name, metavar=name.upper(), type=place, help=what)


def _value(name: str, value: object) -> str:
    from catalogue.cli.commands.show import value_words

    return value_words(name, value)


def _side(letter: str, side: Side) -> str:
    return f"{letter} is {visible(side.what, 200)}: {visible(side.title, 160)} ({words.size(side.size)})"


def _fields(rows: tuple[FieldDifference, ...]) -> Iterator[str]:
    part = None
    for row in rows[:MOST_LINES]:
        if row.part != part:
            part = row.part
            yield "The piece itself" if part == "piece" else f"In {visible(part, 200)}"
        name = visible(row.name, 80).replace("_", " ")
        if row.only:
            value = visible(str(row.a if row.only == "a" else row.b), 200)
            if row.name != "part":
                value = _value(row.name, row.a if row.only == "a" else row.b)
            yield f"    {name}: only in {row.only.upper()}: {value}"
        else:
            yield f"    {name}: {_value(row.name, row.a)} in A, {_value(row.name, row.b)} in B"


def _hex(given: str, length: int) -> str:
    if not length:
        return "nothing"
    shown = " ".join(given[at : at + 2] for at in range(0, min(len(given), 2 * MOST_BYTES), 2)).upper()
    return f"{shown} …" if length > MOST_BYTES else shown


def _range(one: RangeDifference) -> Iterator[str]:
    lies = f"At {one.offset:x}h"
    if one.b_offset != one.offset:
        lies += f" of A, {one.b_offset:x}h of B"
    if one.a_length == one.b_length:
        lies += f", {words.size(one.a_length)}"
    elif not one.a_length:
        lies += f", {words.size(one.b_length)} that only B has"
    elif not one.b_length:
        lies += f", {words.size(one.a_length)} that only A has"
    yield f"{lies}, in {_places(one.where)}" if one.where else lies
    yield f"    A has {_hex(one.a, one.a_length)}"
    yield f"    B has {_hex(one.b, one.b_length)}"


def _places(where: tuple[Where, ...]) -> str:
    """The fields that bytes lie in, those of one part together."""
    parts: dict[str, list[str]] = {}
    for at in where:
        parts.setdefault(at.part, []).append(visible(at.name, 60).replace("_", " ") or "bytes of no field")
    said = []
    for part, names in parts.items():
        if names == ["bytes of no field"]:
            said.append("no field" if part == "piece" else visible(part, 120))
        else:
            said.append(", ".join(names) + ("" if part == "piece" else f" of {visible(part, 120)}"))
    return "; ".join(said)


def _more(count: int, what: str) -> Iterator[str]:
    if count > 0:
        yield f"And {words.count(count, what)} more; --json gives more of them."


def compare_lines(done: Comparison) -> list[str]:
    """A comparison for a person."""
    lines = [_side("A", done.a), _side("B", done.b)]
    if done.layout:
        lines.append(f"Both are read by {visible(done.layout, 120)}.")
    for letter, side in (("A", done.a), ("B", done.b)):
        lines += [f"A fault of {letter}: {visible(text, 300)}" for text in side.faults[:5]]
    lines += [visible(one, 300) for one in done.notes]
    if done.same and done.members_same is not None:
        return [*lines, f"What lies in them is the same ({words.count(done.members_same, 'member')})."]
    if done.same:
        return [*lines, f"Every byte is the same; so is what was read ({words.count(done.fields_same, 'value')})."]
    lines += _members(done)
    count = len(done.fields) + done.fields_left_out
    if count:
        differ = "1 value that was read differs" if count == 1 else f"{count} values that were read differ"
        lines += [f"{differ}; {done.fields_same} more agree.", ""]
        lines += _fields(done.fields)
        lines += _more(count - MOST_LINES, "value")
    elif "folder" not in (done.a.kind, done.b.kind) or done.fields_same:
        lines.append(f"No value that was read differs; all {done.fields_same} agree.")
    if done.ranges:
        lines += ["", _bytes_said(done)]
        for one in done.ranges[:MOST_LINES]:
            lines += _range(one)
        lines += _more(len(done.ranges) - MOST_LINES, "range")
    return lines


def _members(done: Comparison) -> Iterator[str]:
    if done.members_same is None:
        return
    count = len(done.members) + done.members_left_out
    agree = "1 member agrees" if done.members_same == 1 else f"{done.members_same} members agree"
    yield f"Of what lies in them, {agree} and {count} {'differs' if count == 1 else 'differ'}."
    for one in done.members[:MOST_LINES]:
        yield f"    {visible(one.name, 200)}: {_member(one)}"
    yield from _more(count - MOST_LINES, "member")


def _member(one: MemberDifference) -> str:
    if one.state == "moved":
        return f"the same bytes as {visible(one.was, 200)} in A"
    if one.state == "unreadable":
        return f"not compared. {visible(one.why, 200)}"
    if one.state == "changed":
        return f"changed, {words.size(one.a_size)} in A, {words.size(one.b_size)} in B ({one.kind})"
    only = "B" if one.state == "added" else "A"
    return f"only in {only}, {words.size(one.b_size if one.state == 'added' else one.a_size)} ({one.kind})"


def _bytes_said(done: Comparison) -> str:
    said = f"{words.size(done.bytes_differing)} in {words.count(len(done.ranges), 'range')} differ"
    if done.joined_within > 4:
        return f"{said}; ranges with fewer than {done.joined_within} equal bytes between them are told as one."
    return f"{said}."


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import compare

    done = compare.run(context, given.a, given.b, progress)
    wrong = not done.same or bool(done.a.faults or done.b.faults)
    return Answer(done, tuple(compare_lines(done)), 1 if wrong else 0)


COMMAND = Command(
    "compare",
    "Compare two pieces or bundles: which fields differ, and which bytes, with the fields they lie in; of bundles, "
    "which members. Fields are matched by what they belong to, wherever it lies. Of each range the first 256 bytes are "
    "given, as hex.",
    "A and B differ, or one of them has faults",
    _arguments,
    _run,
)
