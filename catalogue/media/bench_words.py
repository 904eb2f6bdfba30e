"""What the run sheet tells a person to look at: how a made file is shown and compared, where a value stands in it."""

from __future__ import annotations

from catalogue.families.model import Family, Route, Step

SHOW = {"dos": "TYPE {made}", "uefi": "type {made}", "linux": "cat {made}"}
"""How a text is shown: DOS's own command (common practice); UEFI Shell Specification 2.2, 5.3; POSIX cat."""
COMPARE = {"dos": "FC /B {made} {piece}", "uefi": "comp {made} {piece}", "linux": "cmp {made} {piece}"}
"""How two files are compared: DOS's FC, where the bench has it (common practice); UEFI Shell 2.2, 5.3; POSIX cmp."""


def shown_by(step: Step, bench: str) -> str | None:
    """The line that shows the text a step has made; None where nothing in it is for a person to read."""
    read = step.learns or step.compares or (step.expects is not None and step.expects.text is not None)
    return SHOW[bench].format(made=step.makes) if step.makes and read and bench in SHOW else None


def compared_by(step: Step, piece: str, bench: str) -> str | None:
    """The line that compares what a step has made with the file `piece`; None where the bench has no such command."""
    return COMPARE[bench].format(made=step.makes, piece=piece) if step.makes and bench in COMPARE else None


def label(name: str, family: Family) -> str:
    """The words before a value in a listing, by the family's pattern; "" where it gives none."""
    if name == "slot":
        pattern = family.listing.block if family.listing else None
    else:
        identity = family.identities.get(name)
        pattern = (identity.find or identity.column) if identity else None
    return " ".join((pattern or "").partition("{")[0].replace("~", " ").split())


def mode_wanted(family: Family, route: Route) -> str:
    """The mode the route leads to, and the IDs by which the card shows it."""
    mode = family.modes.get(route.target_mode)
    ids = [
        f"{one.vendor:04X}:{one.device:04X}"
        + ("" if one.subvendor is None else f" subsystem {one.subvendor:04X}:{one.subdevice or 0:04X}")
        for one in (mode.ids if mode else ())
    ]
    return f"mode {route.target_mode}" + (f" ({' or '.join(ids)})" if ids else "")
