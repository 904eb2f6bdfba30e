"""The table of commands; a row is all it takes to add one."""

from catalogue.cli.command import Command
from catalogue.cli.commands import (
    accept_family,
    compare,
    completion,
    demo,
    draft_family,
    families,
    find_family,
    hosts,
    index,
    kit,
    kit_sheet,
    pieces,
    read_back,
    rules,
    show,
    stale,
    vouch,
    write_out,
)

COMMANDS: tuple[Command, ...] = (
    index.COMMAND,
    pieces.COMMAND,
    show.COMMAND,
    compare.COMMAND,
    families.COMMAND,
    find_family.COMMAND,
    draft_family.COMMAND,
    accept_family.COMMAND,
    vouch.COMMAND,
    hosts.COMMAND,
    kit.COMMAND,
    kit_sheet.COMMAND,
    rules.COMMAND,
    stale.COMMAND,
    write_out.COMMAND,
    read_back.COMMAND,
    demo.COMMAND,
    completion.COMMAND,
)
