"""Record where digests came from."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from catalogue.errors import BadCall, NotWorkable
from catalogue.formats.limits import MAX_LIST_BYTES
from catalogue.formats.signing_keys import MAX_KEY_BYTES, NotAKeyError, read_keys
from catalogue.formats.view import BytesView
from catalogue.intake import more_digests, signature_checks
from catalogue.intake.reading import read_view
from catalogue.shapes.changes import Changes
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.results import ContradictedEntry, KeyRecorded, Vouched
from catalogue.shapes.signing import BROKEN, HOLDS, UNPROVED
from catalogue.store import Store, facts, keys, recorded, signed
from catalogue.tasks.context import Context


def record_list(
    context: Context, file: str | os.PathLike[str], source: str, by: str, progress: Progress | None = None
) -> Vouched:
    """Record the checksum list `file` with the source a person had it from, and say how it stands to the catalogue.

    From then on each of its digests names whatever piece has it. Raises BadCall where there is no such file, where it
    is no checksum list, and where no source is given.
    """
    path = Path(file)
    data = _read(path, "checksum list", source, MAX_LIST_BYTES)
    reading, _depth = read_view(BytesView(data), str(path))
    if not reading.entries:
        raise BadCall(f"{path} is no checksum list: no line of it gives a digest ({reading.title}).")
    place = os.fsencode(path.absolute())
    with Store.open(context.catalogue) as store:
        with store.writing() as connection:
            number = recorded.record(
                connection, hashlib.sha256(data).hexdigest(), place, source.strip(), by.strip(), reading.entries
            )
            facts.fill(connection)
        more_digests.add(store, progress or Quiet())
        with store.reading() as connection:
            stands = recorded.standing(connection, number)
            fact = recorded.fact_of(connection, number)
    return Vouched(
        entries=len(stands),
        matched=sum(one.matched for one in stands),
        contradicted=tuple(
            ContradictedEntry(one.name, one.want, have, str(at)) for one in stands for have, at in one.against
        ),
        changes=Changes(vouching=True),
        facts=(fact,),
    )


def record_key(
    context: Context, file: str | os.PathLike[str], source: str, by: str, progress: Progress | None = None
) -> Vouched:
    """Record the public keys in `file` with the source a person had them from, and ask them of every signature here.

    From then on each names what it signed, and lists that it signed name what they list. A key recorded again takes
    the place of what was recorded; a revocation once known stays. Raises BadCall where there is no such file, where it
    holds no public key, and where no source is given.
    """
    path = Path(file)
    data = _read(path, "public key", source, MAX_KEY_BYTES)
    try:
        found = read_keys(data)
    except NotAKeyError as error:
        raise BadCall(f"{path} is not recorded: {error}.") from error
    with Store.open(context.catalogue) as store:
        with store.writing() as connection:
            try:
                numbers = [keys.record(connection, one, source.strip(), by.strip()) for one in found]
            except NotAKeyError as error:
                raise BadCall(f"{path} is not recorded: {error}.") from error
            facts.fill(connection)
        signature_checks.add(store, progress or Quiet())
        with store.reading() as connection:
            recorded_keys = [one for one in keys.every(connection) if one.id in numbers]
            stands = signed.standing(connection, numbers)
    return Vouched(
        entries=len(recorded_keys),
        matched=sum(check.state == HOLDS for check, _place in stands),
        contradicted=tuple(
            ContradictedEntry(check.place, f"signed by {check.key}", "other bytes", place)
            for check, place in stands
            if check.state == BROKEN
        ),
        changes=Changes(vouching=True),
        keys=tuple(
            KeyRecorded(one.kind, one.fingerprint, one.holder, one.expires or None, one.revoked)
            for one in (recorded_key.key for recorded_key in recorded_keys)
        ),
        unproved=tuple(check for check, _place in stands if check.state == UNPROVED),
        facts=tuple(one.fact for one in recorded_keys),
    )


def _read(path: Path, what: str, source: str, most: int) -> bytes:
    if not source.strip():
        raise BadCall(f"A recorded {what} needs its source: say where you have it from, with --source.")
    if not path.is_file():
        raise BadCall(f"There is no {what} {path}.")
    try:
        with path.open("rb") as opened:
            data = opened.read(most + 1)
    except OSError as error:
        raise NotWorkable(f"The {what} {path} cannot be read: {error.strerror}.") from error
    if len(data) > most:
        size = f"{most >> 20} MiB" if most >= 1 << 20 else f"{most >> 10} KiB"
        raise BadCall(f"{path} is longer than {size}, too long for a {what}.")
    return data
