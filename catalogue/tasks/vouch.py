"""Record where digests came from."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from catalogue.errors import BadCall, NotWorkable
from catalogue.formats.limits import MAX_LIST_BYTES
from catalogue.formats.view import BytesView
from catalogue.intake import more_digests
from catalogue.intake.reading import read_view
from catalogue.shapes.changes import Changes
from catalogue.shapes.progress import Progress, Quiet
from catalogue.shapes.results import ContradictedEntry, Vouched
from catalogue.store import Store, recorded
from catalogue.tasks.context import Context


def record_list(
    context: Context, file: str | os.PathLike[str], source: str, by: str, progress: Progress | None = None
) -> Vouched:
    """Record the checksum list `file` with the source a person had it from, and say how it stands to the catalogue.

    From then on each of its digests names whatever piece has it. Raises BadCall where there is no such file, where it
    is no checksum list, and where no source is given.
    """
    path = Path(file)
    if not source.strip():
        raise BadCall("A recorded list needs its source: say where you have it from, with --source.")
    if not path.is_file():
        raise BadCall(f"There is no checksum list {path}.")
    try:
        with path.open("rb") as opened:
            data = opened.read(MAX_LIST_BYTES + 1)
    except OSError as error:
        raise NotWorkable(f"The checksum list {path} cannot be read: {error.strerror}.") from error
    if len(data) > MAX_LIST_BYTES:
        raise BadCall(f"{path} is longer than {MAX_LIST_BYTES >> 20} MiB, too long for a checksum list.")
    reading, _depth = read_view(BytesView(data), str(path))
    if not reading.entries:
        raise BadCall(f"{path} is no checksum list: no line of it gives a digest ({reading.title}).")
    place = os.fsencode(path.absolute())
    with Store.open(context.catalogue) as store:
        with store.writing() as connection:
            number = recorded.record(
                connection, hashlib.sha256(data).hexdigest(), place, source.strip(), by.strip(), reading.entries
            )
        more_digests.add(store, progress or Quiet())
        with store.reading() as connection:
            stands = recorded.standing(connection, number)
    return Vouched(
        entries=len(stands),
        matched=sum(one.matched for one in stands),
        contradicted=tuple(
            ContradictedEntry(one.name, one.want, have, str(at)) for one in stands for have, at in one.against
        ),
        changes=Changes(vouching=True),
    )
