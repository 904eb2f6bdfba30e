"""kitproof kit FAMILY"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Mapping

from catalogue.cli import words
from catalogue.cli.command import Answer, Command
from catalogue.cli.commands.hosts import add_host, host_of
from catalogue.cli.explained import explained_lines
from catalogue.cli.given import path
from catalogue.errors import BadCall
from catalogue.shapes.finding import Level
from catalogue.shapes.kit import Kit, Pin, RoleChoice, Word
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("family", metavar="FAMILY", help="the family's id")
    parser.add_argument("--route", metavar="R", help="the route (default: the family's first)")
    add_host(parser)
    add_identity(parser)
    parser.add_argument(
        "--pin", metavar="ROLE=HASH", action="append", default=[], help="take this piece; needs --reason"
    )
    parser.add_argument(
        "--word", metavar="CODE=HASH", action="append", default=[], help="clear this finding; needs --reason and --by"
    )
    parser.add_argument("--reason", metavar="TEXT", default="", help="why")
    parser.add_argument("--by", metavar="NAME", default="", help="who says so")
    parser.add_argument(
        "--why",
        metavar="ROLE=HASH",
        action="append",
        help="say why this indexed piece is not the one chosen for the role; may repeat",
    )
    parser.add_argument("--mend", action="store_true", help="work out what would make the kit ready")


def add_identity(parser: ArgumentParser) -> None:
    """The option for what the cards themselves tell."""
    parser.add_argument(
        "--identity",
        metavar="FILE",
        action="append",
        default=[],
        type=path,
        help="a saved listing of the cards this is for: their mode, board and versions are judged too",
    )


def pins_of(given: Namespace) -> tuple[Pin, ...]:
    """The call's pins. Raises BadCall for one misspelt or without a reason."""
    by = str(getattr(given, "by", "")).strip()
    pins = [Pin(*_pair(text, "--pin", "ROLE=HASH"), given.reason.strip(), by) for text in given.pin]
    if pins and not given.reason.strip():
        raise BadCall("--pin needs --reason: say why this piece is taken.")
    return tuple(pins)


def _words_of(given: Namespace) -> tuple[Word, ...]:
    said = [Word(*_pair(text, "--word", "CODE=HASH"), given.reason.strip(), given.by.strip()) for text in given.word]
    if said and not (given.reason.strip() and given.by.strip()):
        raise BadCall("--word needs --reason and --by: say why, and who says so.")
    return tuple(said)


def _pair(text: str, option: str, form: str) -> tuple[str, str]:
    left, sign, right = text.partition("=")
    if not (sign and left and right):
        raise BadCall(f"{option} {text}: it takes {form}.")
    return left, right.lower()


def _version(choice: RoleChoice) -> str:
    """The version with what it was read from; never a bare number."""
    if choice.version is None:
        return "-"
    return f"{visible(choice.version, 24)} ({visible(choice.version_source or 'source not kept', 40)})"


def kit_lines(kit: Kit, names: Mapping[str, str], known: str = "") -> list[str]:
    """A kit for a person, `names` by SHA-256: the verdict last, where the next action is.

    `known` says of which day the family's knowledge is.
    """

    def called(piece: str) -> str:
        return f"{visible(names[piece], 40)} {piece[:12]}" if piece in names else piece[:12]

    rows = []
    for choice in kit.roles:
        role = choice.role + ("" if choice.needed else " (may)")
        first = "left out" if choice.left_out else called(choice.pieces[0]) if choice.pieces else "nothing"
        rows.append((role, first, _version(choice), choice.fit, choice.vouch, choice.age))
        rows += [("  with", called(one), "", "", "", "") for one in choice.pieces[1:]]
    lines = [f"{visible(kit.family_title, 80)}, route {kit.route}", ""]
    lines += words.columns(rows, ("role", "piece", "version, from", "fit", "vouched", "age"))
    for choice in kit.roles:
        lines += [f"  {choice.role} vouched for: {words.vouch_line(one)}" for one in choice.vouched_by[:4]]
    for choice in kit.roles:
        lines += [
            f"  not for {choice.role}: {called(other.piece)} ({', '.join(other.why)})" for other in choice.others[:8]
        ]
        if len(choice.others) > 8:
            lines.append(f"  not for {choice.role}: and {len(choice.others) - 8} more; --json lists all")
    for finding in kit.findings:
        lines += ["", *words.finding_lines(finding)]
    lines += ["", *([known] if known else []), *(visible(text, 400) for text in kit.said), verdict(kit)]
    return lines


def verdict(kit: Kit) -> str:
    """The verdict in one sentence."""
    stops = sum(1 for finding in kit.findings if finding.level is Level.STOP)
    cautions = sum(1 for finding in kit.findings if finding.level is Level.CAUTION)
    if kit.verdict == "ready":
        return f"This kit is ready, with {cautions} caution{'' if cautions == 1 else 's'}. Kit {kit.id}"
    return f"This kit is not ready: {stops} stop{'' if stops == 1 else 's'}. Nothing will be written out. Kit {kit.id}"


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import explain, families, piece_names

    pins, said, host = pins_of(given), _words_of(given), host_of(given)
    done = explain.run(
        context,
        given.family,
        given.route,
        pins=pins,
        words=said,
        host=host,
        saved=given.identity,
        why=[_pair(text, "--why", "ROLE=HASH") for text in given.why] if given.why else None,
        mend=given.mend,
        progress=progress,
    )
    judged = done.kit
    if given.json:
        return Answer(done, (), 0 if judged.verdict == "ready" else 1)
    known = f"What the family knows is of {families.detail(context, judged.family).as_of}."
    lines = kit_lines(judged, piece_names.of_kit(context, judged), known)
    asked = explained_lines(done)
    return Answer(done, (*lines[:-1], *asked, lines[-1]), 0 if judged.verdict == "ready" else 1)


COMMAND = Command(
    "kit", "Choose one piece for every role of a route, and prove the whole.", "the kit is not ready", _arguments, _run
)
