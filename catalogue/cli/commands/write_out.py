"""kitproof write-out FAMILY TARGET"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from catalogue.cli import words
from catalogue.cli.command import Answer, Command
from catalogue.cli.commands.hosts import add_host, host_of
from catalogue.cli.commands.kit import add_identity, kit_lines, verdict
from catalogue.cli.given import path
from catalogue.shapes.progress import Progress
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("family", metavar="FAMILY", help="the family's id")
    parser.add_argument("target", metavar="TARGET", type=path, help="a folder or a mounted volume")
    parser.add_argument("--kit", metavar="ID", help="this very kit, as judged before (default: judge now)")
    parser.add_argument("--route", metavar="R", help="the route (default: the family's first)")
    add_host(parser)
    add_identity(parser)
    parser.add_argument(
        "--without-script", action="store_true", help="leave the bench script out (this version makes none yet)"
    )


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import piece_names, write_out

    done = write_out.run(
        context,
        given.family,
        given.target,
        kit_id=given.kit,
        route=given.route,
        host=host_of(given),
        saved=given.identity,
        progress=progress,
    )
    if not done.files:
        ready = done.kit.verdict == "ready"
        lines = [f"{verdict(done.kit)}"] if ready else kit_lines(done.kit, piece_names.of_kit(context, done.kit))
        for finding in done.findings:
            lines += ["", *words.finding_lines(finding)]
        return Answer(done, (*lines, "Nothing was written."), 1)
    rows = [(one.name, one.role or "-", words.size(one.size), one.sha256[:12]) for one in done.files]
    lines = [f"Written to {visible(str(Path(done.target) / done.folder), 300)}:"]
    lines += words.columns(rows, ("name", "role", "size", "SHA-256 begins"))
    for finding in done.findings:
        lines += ["", *words.finding_lines(finding)]
    same = done.read_back == "same"
    lines.append("Read back: every byte is the same." if same else "Read back, the medium differs: do not use it.")
    return Answer(done, tuple(lines), 0 if same else 1)


COMMAND = Command(
    "write-out",
    "Write a ready kit to a folder or mounted volume under names DOS can type, and read it back.",
    "the kit is not ready, or the medium differs",
    _arguments,
    _run,
)
