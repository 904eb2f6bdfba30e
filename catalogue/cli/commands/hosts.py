"""kitproof hosts [--keep FILE]"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from catalogue.cli.command import Answer, Command
from catalogue.cli.given import path
from catalogue.shapes.host import NO_HOST, Host
from catalogue.shapes.progress import Progress
from catalogue.shapes.results import HostInfo
from catalogue.shapes.visible import visible
from catalogue.tasks.context import Context


def add_host(parser: ArgumentParser) -> None:
    """The option that says which machines a kit is judged for."""
    parser.add_argument(
        "--host", metavar="FILE", default="", help="a host file, or the name of a kept host: the machines this is for"
    )


def host_of(given: Namespace) -> Host:
    """The call's host. Raises BadCall where it cannot be used."""
    from catalogue.tasks import hosts

    return hosts.load(given.host) if given.host else NO_HOST


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--keep", metavar="FILE", type=path, help="keep this host file, with the lists it names")


def _run(given: Namespace, context: Context, progress: Progress) -> Answer:
    from catalogue.tasks import hosts

    if given.keep:
        one = hosts.keep(given.keep)
        return Answer(one, (f'Kept as "{visible(one.name, 80)}" in {visible(one.file, 300)}.', *_lines(one)))
    known = hosts.run()
    lines = [line for one in known for line in (visible(one.name, 80), *_lines(one))]
    return Answer(known, tuple(lines) or ("No host is kept yet. `kitproof hosts --keep FILE` keeps one.",))


def _lines(one: HostInfo) -> list[str]:
    if one.problems:
        return [f"  line {wrong.line}: {visible(wrong.text, 400)}" for wrong in one.problems]
    rows = (("bench", one.bench), ("destination", one.destination))
    return [f"  {what}: {', '.join(said) if said else 'nothing is told'}" for what, said in rows]


COMMAND = Command(
    "hosts", "List the hosts that are kept, or keep one: the bench and destination machines.", "(not used here)",
    _arguments, _run,
)  # fmt: skip
