"""What recorded keys say of the signatures that lie beside a file that is not indexed."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from catalogue.formats.limits import MAX_DETACHED_BYTES
from catalogue.formats.signing_keys import check
from catalogue.shapes.piece import SignatureCheck
from catalogue.shapes.signing import BROKEN, HOLDS, OTHER, UNPROVED
from catalogue.store import Store, keys
from catalogue.store.signature_pairs import ENDINGS
from catalogue.store.signed import NO_KEY, TAKEN_BACK

_ORDER = (BROKEN, HOLDS, TAKEN_BACK, UNPROVED, NO_KEY)


def checks(store: Store, file: Path, data: bytes) -> tuple[SignatureCheck, ...]:
    """One answer for each signature beside `file`, whose bytes are `data`, and each recorded key that it names."""
    beside = [path for ending in ENDINGS if (path := file.with_name(file.name + ending)).is_file()]
    if not beside:
        return ()
    moment = datetime.now(UTC)
    with store.reading() as connection:
        recorded = keys.every(connection)
    found: list[SignatureCheck] = []
    for path in beside:
        try:
            with path.open("rb") as stream:
                signature = stream.read(MAX_DETACHED_BYTES + 1)
        except OSError as error:
            found.append(
                SignatureCheck(str(path), UNPROVED, "a key not read", "", f"It cannot be read: {error.strerror}.")
            )
            continue
        mine = [] if len(signature) > MAX_DETACHED_BYTES else _asked(recorded, path, signature, data, moment)
        none = SignatureCheck(
            str(path), NO_KEY, "a key that is not recorded", "", "No recorded key is the one it names."
        )
        found += mine or [none]
    return tuple(sorted(found, key=lambda one: (_ORDER.index(one.state), one.place, one.key)))


def _asked(
    recorded: list[keys.RecordedKey], path: Path, signature: bytes, data: bytes, moment: datetime
) -> list[SignatureCheck]:
    found = []
    for key in recorded:
        verdict = check(key.key, signature, data, moment)
        if verdict.state == OTHER:
            continue
        state, why = verdict.state, verdict.why
        if key.taken_back:
            state, why = TAKEN_BACK if state == HOLDS else UNPROVED, f"{key.taken_back}."
        elif state == HOLDS and key.key.revoked:
            state, why = UNPROVED, "The key was revoked."
        elif state == HOLDS and verdict.until and verdict.until <= moment.isoformat(timespec="seconds"):
            state, why = UNPROVED, f"The key or the signature expired on {verdict.until[:10]}."
        found.append(SignatureCheck(str(path), state, key.name, key.said, why, verdict.algorithm))
    return found
