"""RUNSHEET.TXT: the route's steps with this kit's very names, for a person at a bench without the program.

Plain ASCII, CR LF, at most 79 columns, so that a DOS or UEFI screen shows it whole. What no letter of ASCII can
show becomes a question mark; nothing from a file reaches the sheet as a control character.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator

from catalogue.errors import BadCall
from catalogue.families.model import Expects, Family, Route, Step
from catalogue.media.bench_words import compared_by, label, mode_wanted, shown_by
from catalogue.media.lines import filled
from catalogue.media.plan import KIT_JSON, SUMS, Plan, route_of
from catalogue.shapes.finding import Finding, Level
from catalogue.shapes.kit import Kit

COLUMNS = 79
MOST_TEXT = 2_000
"""Characters of one text from a file or a person that the sheet shows; the rest is cut, and said so."""
BENCHES = {
    "dos": "a DOS bench machine",
    "uefi": "a bench machine's UEFI shell",
    "linux": "a Linux bench machine",
    "clip": "an external programmer",
}
TYPED = {
    "no-separators": "without blanks, colons or dashes",
    "upper": "in capital letters",
    "lower": "in small letters",
    "strip-zeros": "without leading zeros",
}
"""How an identity is typed, by the family file's words for it."""
SAFETY = (
    "The card maker's own instructions come first: where they differ from this sheet, follow them and not this sheet.",
    "Do this only with leave of whoever is responsible for the machine and the card.",
    "Nothing on this sheet is run by itself. Read each step through before you type it. If a screen shows anything "
    "but what the step says, stop there, change nothing, switch nothing off, and ask.",
    "No power cut between a step that destroys and the step that writes it again.",
)


def text(kit: Kit, family: Family, plan: Plan) -> str:
    """The run sheet of `kit`, lines ended by CR LF.

    Raises BadCall where the family has no such route, or where a line to type holds a character that a bench
    cannot type.
    """
    route = route_of(kit, family)
    lines: list[str] = []
    for part in (
        _head(kit, family, route, plan),
        _safety(route),
        _files(kit, plan),
        _cautions(kit, plan),
        _check(plan, route),
        _steps(family, route, plan),
    ):
        lines += [*part, ""]
    return "".join(f"{line.rstrip()}\r\n" for line in lines[:-1])


def _head(kit: Kit, family: Family, route: Route, plan: Plan) -> Iterator[str]:
    yield from _wrap(f"RUN SHEET for kit {plan.code}")
    yield from _wrap(f"{family.title}: from {route.source_mode} mode to {route.target_mode} mode", "  ")
    yield from _wrap(f"Bench: {BENCHES.get(route.bench, route.bench)}. Route: {route.id}.", "  ")
    yield from _wrap(f"Kit id: {kit.id}", "  ")
    yield from _wrap(f"What the family knows is of {family.as_of.isoformat()}.", "  ")
    for said in kit.said:
        yield from _wrap(said, "  ")
    yield ""
    yield "Tag ________________   Date ________________   By ________________"


def _safety(route: Route) -> Iterator[str]:
    yield "BEFORE ANYTHING"
    for line in (*SAFETY, *route.care):
        yield from _wrap(line, "  - ", "    ")
    for thing in route.unchecked:
        yield from _wrap(f"What is written to {thing} cannot be read back by the utility.", "  - ", "    ")


def _files(kit: Kit, plan: Plan) -> Iterator[str]:
    yield "FILES IN THIS FOLDER"
    for one in plan.files:
        words = "companion of " if one.companion else ""
        source = next((role.version_source for role in kit.roles if one.sha256 in role.pieces[:1] and role.version), "")
        read = f" (read from: {source})" if source else ""
        version = f", version {one.version}{read}" if one.version else ""
        yield from _wrap(f"{words}{' and '.join(one.roles)}{version}", f"  {plain(one.name):<12}  ", " " * 16)
        yield from _wrap(f"{one.size} bytes, SHA-256 {one.sha256[:16]}...", " " * 16)
    left = [one.role for one in kit.roles if not one.pieces]
    if left:
        yield from _wrap(f"Left out of this kit: {_and(left)}.", "  ")


def _cautions(kit: Kit, plan: Plan) -> Iterator[str]:
    named = {one.sha256: one.name for one in plan.files}
    told = [one for one in kit.findings if one.level is not Level.NOTE]
    yield "CAUTIONS THAT TRAVEL WITH THIS KIT"
    if not told:
        yield "  None."
    for finding in told:
        yield from _wrap(f"{finding.code}{_about(finding, named)}: {finding.text}", "  - ", "    ")
        if finding.cleared_by is not None:
            yield from _wrap(f"Word given by {finding.cleared_by.by}: {finding.cleared_by.reason}", "    ")
        else:
            yield from _wrap(f"What to do: {finding.remedy}", "    ")
    for pin in kit.pins:
        by = f" by {pin.by}" if pin.by else ""
        yield from _wrap(
            f"Chosen by hand{by} for {pin.role}: {named.get(pin.sha256, pin.sha256)}: {pin.reason}", "  - ", "    "
        )


def _about(finding: Finding, named: dict[str, str]) -> str:
    about = [word for word in (finding.role, named.get(finding.piece or "")) if word]
    return f" ({', '.join(about)})" if about else ""


def _check(plan: Plan, route: Route) -> Iterator[str]:
    yield "IS THE MEDIUM WHOLE?"
    here = "On this bench" if route.bench == "linux" else "On another machine, one that has sha256sum"
    yield from _wrap(f"{here}, type in the folder {plan.code}:", "  ")
    yield f"    sha256sum -c {SUMS}"
    yield from _wrap(
        f"It names every file that differs. If one does, use nothing of this kit and write it out again. {KIT_JSON} "
        "holds what was judged.",
        "  ",
    )


def _steps(family: Family, route: Route, plan: Plan) -> Iterator[str]:
    yield "STEPS"
    yield from _wrap(
        f"Type every line in the folder {plan.code} of this medium; after a restart, go back into it first. A word "
        "between underscores, such as __slot__, is a value that this card gave: type the value as you wrote it down "
        "last, not the word.",
        "  ",
    )
    made = [step.makes for step in route.steps if step.makes]
    if made:
        yield from _wrap(
            f"These files are made on the way and belong to one card: {', '.join(made)}. If one of them lies here "
            "before you begin, it is another card's and would be written over: move it to a folder of its own first.",
            "  ",
        )
    for number, step in enumerate(route.steps, 1):
        yield ""
        yield from _step(number, step, family, route, plan)


def _step(number: int, step: Step, family: Family, route: Route, plan: Plan) -> Iterator[str]:
    indent = "      "
    yield from _wrap(f"{step.name}: {step.say}", f"{number:>3}.  ", indent)
    line = filled(step, family, plan, lambda name: f"__{name}__")
    if line is not None and line.missing:
        yield from _wrap(f"Not for this kit: it has no {', '.join(line.missing)}. Go on with the next step.", indent)
        return
    if step.destroys:
        yield from _wrap(f"DESTROYS {_and(step.destroys)} on the card.", indent)
        yield from _wrap("Only when every step above is done and ticked.", indent)
    if line is not None:
        yield from _typed(step, line.text, indent)
        for name, how in _how_typed(step, family):
            yield from _wrap(f"Type {name} {how}.", indent)
    if step.makes:
        yield from _wrap(f"Makes {step.makes}. {_expected(step.expects, plan)}", indent)
        yield from _looked_at(step, route, plan, indent)
    if step.saves:
        yield from _wrap(f"Saves {_and(step.saves)}; without it, do not go on.", indent)
    for name in step.learns:
        stands = label(name, family)
        after = f' (it stands after "{stands}")' if stands else ""
        yield from _wrap(f"Write down {name}{after}: {'_' * 32}", indent)
    if step.checks:
        yield from _wrap(f"Shows whether {_and(step.checks)} was written right; if not, do not restart.", indent)
    if "mode" in step.compares:
        yield from _wrap(f"The card must now show {mode_wanted(family, route)}; if not, stop.", indent)
    kept = [one for one in step.compares if one != "mode"]
    if kept:
        yield from _wrap(f"Compare {_and(kept)} with what you wrote down: it must be the same; if not, stop.", indent)
    if step.then == "restart":
        yield from _wrap("Then RESTART the machine.", indent)
    elif step.then:
        yield from _wrap(f"Then: {step.then}.", indent)
    yield f"{indent}Done ____"


def _looked_at(step: Step, route: Route, plan: Plan, indent: str) -> Iterator[str]:
    """How the made file is shown, and how it is compared with the piece that it must equal."""
    show = shown_by(step, route.bench)
    if show:
        yield from _wrap(f"To see it: {show}", indent)
    file = plan.of_role(step.expects.same_as) if step.expects and step.expects.same_as else None
    compare = compared_by(step, file.name, route.bench) if file else None
    if compare:
        yield from _wrap(f"To compare, where the bench has the command: {compare}", indent)


def _how_typed(step: Step, family: Family) -> Iterator[tuple[str, str]]:
    """Each identity of the step's line whose family has it typed otherwise than it is printed, and how."""
    for identity in family.identities.values():
        if identity.typed and f"{{{identity.name}}}" in (step.type or ""):
            yield identity.name, _and(tuple(TYPED.get(one, one) for one in identity.typed))


def _typed(step: Step, line: str, indent: str) -> Iterator[str]:
    if not line.isascii() or not line.isprintable():
        raise BadCall(
            f'The line to type of step "{step.name}" has a character that a bench cannot type; '
            "use printable ASCII in the family file."
        )
    if len(indent) + 2 + len(line) <= COLUMNS:
        yield f"{indent}Type:"
        yield f"{indent}  {line}"
        return
    yield f"{indent}Type, all as one line (a + at an end: go on without a blank):"
    yield from _broken(line, f"{indent}  ")


def _broken(line: str, indent: str) -> Iterator[str]:
    """A long line cut at blanks; a word over the width is cut inside itself, with a + where no blank stands."""
    width = COLUMNS - len(indent) - 1
    current = ""
    for word in line.split(" "):
        rest = word
        if current and len(current) + 1 + len(rest) > width:
            yield indent + current
            current = ""
        while len(rest) > width:
            yield f"{indent}{rest[:width]}+"
            rest = rest[width:]
        current = f"{current} {rest}" if current else rest
    if current:
        yield indent + current


def _expected(expects: Expects | None, plan: Plan) -> str:
    if expects is None:
        return ""
    wants = []
    if expects.size is not None:
        wants.append(f"must be {expects.size} bytes long")
    if expects.blank is False:
        wants.append("must not be blank")
    if expects.blank is True:
        wants.append("must be blank")
    if expects.text is not None:
        wants.append(f'must say "{expects.text}"')
    if expects.holds:
        wants.append(f"must hold this card's {_and(expects.holds)}")
    if expects.same_as is not None:
        file = plan.of_role(expects.same_as)
        wants.append(f"must be the same, byte for byte, as {file.name if file else expects.same_as}")
    return f"It {_and(wants)}; if not, stop." if wants else ""


def _and(words: Iterable[str]) -> str:
    listed = list(words)
    return " and ".join([", ".join(listed[:-1]), listed[-1]] if len(listed) > 1 else listed)


def plain(text: str) -> str:
    """`text` in printable ASCII on one line: accents dropped, blanks for control characters, ? for the rest."""
    cut = text if len(text) <= MOST_TEXT else f"{text[:MOST_TEXT]}... (cut)"
    spread = unicodedata.normalize("NFKD", cut)
    kept = []
    for character in spread:
        if " " <= character <= "~":
            kept.append(character)
        elif unicodedata.combining(character):
            continue
        elif character.isspace() or unicodedata.category(character) == "Cc":
            kept.append(" ")
        else:
            kept.append("?")
    return " ".join("".join(kept).split())


def _wrap(text: str, first: str = "", further: str | None = None) -> Iterator[str]:
    """`text` in lines of at most COLUMNS, cut at blanks, a longer word inside itself."""
    further = first if further is None else further
    indent = first
    current = ""
    for word in plain(text).split(" "):
        rest = word
        if current and len(indent) + len(current) + 1 + len(rest) > COLUMNS:
            yield indent + current
            indent, current = further, ""
        while len(indent) + len(rest) > COLUMNS:
            room = COLUMNS - len(indent)
            yield indent + rest[:room]
            rest = rest[room:]
            indent = further
        current = f"{current} {rest}" if current else rest
    yield indent + current
