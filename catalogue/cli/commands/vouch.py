"""kitproof vouch --list FILE --source TEXT; vouch --key FILE --source TEXT; vouch HASH --ran CARD"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli.command import Answer, Command
from catalogue.cli.given import path
from catalogue.errors import BadCall
from catalogue.shapes.progress import Progress
from catalogue.shapes.results import Vouched
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--list", metavar="FILE", type=path, help="a checksum list")
    what.add_argument(
        "--key", metavar="FILE", type=path, help="public keys that sign: OpenPGP, or Ed25519 in text form"
    )
    what.add_argument("--ran", metavar="CARD", help="a card that compared well with HASH: its address or serial number")
    parser.add_argument("hash", metavar="HASH", nargs="?", help="with --ran: the piece, by its SHA-256 or beginning")
    parser.add_argument("--source", metavar="TEXT", default="", help="where you have the list or the key from")
    parser.add_argument("--by", metavar="NAME", default="", help="who says so")
    parser.add_argument("--before", metavar="FILE", type=path, help="with --ran: the card's listing before")
    parser.add_argument("--after", metavar="FILE", type=path, help="with --ran: the card's listing afterwards")
    parser.add_argument("--kit", metavar="ID", default="", help="with --ran: the kit it was converted with")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import vouch

    if given.ran is not None:
        return _ran(given, context)
    if given.hash or given.before or given.after or given.kit:
        raise BadCall("HASH, --before, --after and --kit go with --ran.")
    if given.key is not None:
        done = vouch.record_key(context, given.key, given.source, given.by, progress)
        lines = _keys(done, given.source)
    else:
        done = vouch.record_list(context, given.list, given.source, given.by)
        lines = [
            f"Recorded {done.entries} digests from {visible(given.source, 200)}; {done.matched} name pieces found here."
        ]
    lines += [f"It can be taken back as fact {one[:12]}." for one in done.facts]
    lines += [
        f"Contradicted: {visible(one.place, 200)} should be {visible(one.want, 200)}, and is {visible(one.have, 200)}"
        for one in done.contradicted
    ]
    return Answer(done, tuple(lines), 1 if done.contradicted else 0)


def _ran(given: Namespace, context: Context) -> Answer:
    from catalogue.tasks import record_ran

    if not given.hash:
        raise BadCall("--ran needs HASH: which piece ran on that card.")
    done = record_ran.run(context, given.hash, given.ran, given.by, given.before, given.after, given.kit)
    if done.refused:
        return Answer(done, ("Not recorded:", *(visible(one, 300) for one in done.refused)), 1)
    ids = ", ".join(one[:12] for one in done.facts)
    said = f"Recorded that {given.hash[:12].lower()} ran on card {visible(given.ran, 80)} (fact {ids})."
    return Answer(done, (said,))


def _keys(done: Vouched, source: str) -> list[str]:
    lines = []
    for key in done.keys:
        holder = f" of {visible(key.holder, 200)}" if key.holder else ""
        ends = ", revoked" if key.revoked else f", expires on {key.expires[:10]}" if key.expires else ""
        lines.append(f"Recorded the {key.kind} key {key.fingerprint}{holder}{ends}, from {visible(source, 200)}.")
    lines.append(f"{done.matched} signatures found here hold.")
    lines += [f"Not relied on: {visible(one.place, 200)}. {visible(one.why, 300)}" for one in done.unproved]
    return lines


COMMAND = Command(
    "vouch",
    "Record a checksum list or a public key and where it came from, or a card that ran, so that it vouches for pieces.",
    "the list contradicts a piece, a signature that names the key is not of the bytes it lies beside, or the card's "
    "listings do not compare well",
    _arguments,
    _run,
)
