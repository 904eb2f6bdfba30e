"""kitproof facts-out FILE; kitproof facts-in FILE"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli import words
from catalogue.cli.command import Answer, Command
from catalogue.cli.commands.facts import fact_rows
from catalogue.cli.commands.show import SIGNATURES
from catalogue.cli.given import path
from catalogue.shapes.progress import Progress
from catalogue.shapes.results import FactsIn
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context

FAMILY_WORDS = {
    "new": "is new here",
    "known": "is known here, the very same file",
    "differs": "is left out",
    "broken": "is left out",
}


def _out_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", type=path, help="the facts file to write")
    parser.add_argument("--by", metavar="NAME", required=True, help="who sends it")
    parser.add_argument("--bench", metavar="NAME", default="", help="what this bench is called; remembered")
    parser.add_argument(
        "--family", metavar="ID", action="append", default=[],
        help="this family's file goes along; of words and cards that ran, its own alone",
    )  # fmt: skip


def _out(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import facts_out

    done = facts_out.run(context, given.file, given.by, given.bench, given.family)
    along = f" and the family files {', '.join(done.families)}" if done.families else ""
    lines = (
        f"Wrote {words.count(done.facts, 'fact')}{along} to {visible(done.file, 300)}, as {visible(done.bench, 80)}.",
        f"SHA-256 {done.sha256}. Sign the file if you like: a signature beside it is checked where it is taken in.",
    )
    return Answer(done, lines)


def _in_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", type=path, help="a facts file; nothing is taken in without --accept")
    parser.add_argument("--accept", action="store_true", help="take in what does not contradict; needs --by")
    parser.add_argument("--words", action="store_true", help="take persons' words in too: each clears a stop here")
    parser.add_argument("--by", metavar="NAME", default="", help="who takes it in and answers for it here")


def _in(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import facts_in

    done = facts_in.run(context, given.file, given.by, accept=given.accept, words=given.words, progress=progress)
    wrong = bool(done.against or done.speaks_against) or any(
        one.state in ("differs", "broken") for one in done.families
    )
    wrong = wrong or any(one.state == "broken" for one in done.signatures)
    return Answer(done, tuple(facts_in_lines(done, accept=given.accept)), 1 if wrong else 0)


def facts_in_lines(done: FactsIn, *, accept: bool) -> list[str]:
    """What a facts file holds and how it stands to what is here, for a person."""
    lines = [f"From {visible(done.bench, 80)}, sent by {visible(done.sent_by, 80)}. SHA-256 {done.sha256}."]
    lines += [
        f"The signature {visible(one.place, 200)} {SIGNATURES[one.state]}, by {visible(one.key, 200)}"
        + (f": {visible(one.why, 200)}" if one.why else ".")
        for one in done.signatures
    ] or ["No signature lies beside it."]
    for one in done.families:
        why = f": {visible(one.why, 300)}" if one.why else ""
        lies = (
            f"; it lies at {visible(one.file, 200)}, unsettled until you accept it"
            if one.state == "new" and one.file
            else ""
        )
        lines.append(f"Family {one.id} {FAMILY_WORDS[one.state]}{why}{lies}.")
    if done.new:
        lines += ["Taken in:" if done.taken else "New here:", *(f"  {one}" for one in fact_rows(done.new))]
    if done.words:
        lines += ["Words, left out unless asked for by --words:", *(f"  {one}" for one in fact_rows(done.words))]
    for against in done.against:
        lines.append(f"Left out: {visible(against.fact.what, 200)}. {visible(against.why, 300)}")
    lines += [
        f"A list speaks against {visible(one.place, 200)}: it should be {visible(one.want, 200)}."
        for one in done.speaks_against
    ]
    lines.append(f"{words.count(done.known, 'fact')} known here already.")
    if done.taken:
        lines.append(f"{words.count(len(done.new), 'fact')} taken in.")
    elif accept:
        lines.append("Nothing was taken in: a signature beside the file is not of its bytes.")
    else:
        lines.append("Nothing was taken in. With --accept and --by NAME, what is new comes in.")
    return lines


OUT = Command(
    "facts-out", "Write what people recorded here, and family files, to one plain text file for another bench.",
    "(not used here)", _out_arguments, _out,
)  # fmt: skip
IN = Command(
    "facts-in", "Show what another bench's facts file would add here; with --accept, take it in.",
    "something in it contradicts what is here and is left out, or a signature beside it is not of its bytes",
    _in_arguments, _in,
)  # fmt: skip
