"""A reading of some bytes, whatever they do to a reader: the one guard between hostile bytes and the work."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterable

from catalogue.formats import READERS, known, knows_nothing, opaque
from catalogue.formats.reader import Reader
from catalogue.formats.view import BytesView, View
from catalogue.intake.containers import CONTAINERS
from catalogue.intake.containers.container import Container
from catalogue.shapes.reading import Fault, Reading
from catalogue.store.found import GLANCED, WHOLE


def read_by(readers: Iterable[Reader], containers: Iterable[Container], intake: int) -> str:
    """Readers and containers as text: names, versions, and what tells which pieces a change touches."""
    readers = tuple(readers)
    rows = [[one.name, one.version, one.sees, one.alone, [first.hex() for first in one.first]] for one in readers]
    opens = [[row.kind, row.version, [one.name for one in readers if row.kind in one.kinds]] for row in containers]
    return json.dumps({"intake": intake, "readers": rows, "containers": opens}, separators=(",", ":"))


LOG = logging.getLogger("kitproof.intake")
INTAKE_VERSION = 4
"""Rises whenever intake itself reads or opens things otherwise, so that pieces are read again."""
READ_BY = read_by(READERS, CONTAINERS.values(), INTAKE_VERSION)
"""Today's readers and containers as text, for the store to tell which pieces others read (`store.readers`)."""
GLANCE_BYTES = 32 << 10
"""How much of an opaque piece is looked through for version-like strings while indexing (measured: a look through
everything takes longer than hashing it). The rest is looked through when the piece is shown or judged."""

VERSIONS = {row.name: row.version for row in READERS}


def read_short(data: bytes, what: str) -> tuple[Reading, int]:
    """As `read_view` for a short piece: most of them are known by nobody, and a quick look tells so."""
    if len(data) <= GLANCE_BYTES and knows_nothing(data) and opaque.is_plain(data):
        return opaque.plain(len(data)), WHOLE
    return read_view(BytesView(data), what)


def read_view(view: View, what: str, *, whole: bool = False) -> tuple[Reading, int]:
    """The reading of a piece, and how much of it was read (see `store.found`). `what` names the piece in the log.

    Raises the view's OSError. Any other exception of a reader becomes the fault `reader-failed`.
    """
    try:
        answer = known(view)
        if answer is not None:
            return answer, WHOLE
        if whole or view.size <= GLANCE_BYTES:
            return opaque.read(view), WHOLE
        return opaque.read(view, GLANCE_BYTES), GLANCED
    except OSError:
        raise
    except Exception as error:
        LOG.exception("A reader failed on %r", what)
        text = f"A reader of ours failed on these bytes ({type(error).__name__}); nothing more is known of them."
        fault = Fault("reader-failed", text)
        return Reading("opaque", "opaque", "Bytes that could not be read", length=view.size, faults=(fault,)), WHOLE
