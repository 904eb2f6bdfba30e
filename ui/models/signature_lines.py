"""A signature in sentences: who signed, under which authority, whether these are the bytes that were signed, and when.

What the file proves by itself is said, and what it does not; no sentence is a verdict on whether to trust it.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING

from ui import text

if TYPE_CHECKING:
    from catalogue.shapes.reading import Reading

Said = tuple[str, str, str]
"""Mark ("good", "stop", "note" or ""), what is said, and what belongs to it."""


def of_program(reading: Reading) -> Iterator[Said]:
    """What a program's own reading says of its signatures, where it has room for any."""
    if reading.format != "pe" or reading.value("signed_by") is None:
        return
    count = reading.value("signature_count")
    if count is None:
        yield "note", "Not signed", "it has no certificate table"
        return
    if not count:
        yield "note", "No signature could be read", "its certificate table holds none that is known"
        return
    matches = reading.value("digest_matches")
    assert isinstance(count, int)
    yield _matches(matches, text.count(count, "signature"))


def _matches(matches: object, of: str) -> Said:
    if matches is True:
        return "good", f"{of}: the bytes are those that were signed", "the signed digest is the one the bytes give"
    if matches is False:
        return "stop", f"{of}: the bytes are not those that were signed", "the digests differ"
    return "note", f"{of}: not compared", "the signed digest could not be compared with the bytes"


def of_signature(reading: Reading, today: date) -> Iterator[Said]:
    """One signature's sentences, from the fields of its reading."""
    subject, issuer = reading.value("subject"), reading.value("issuer")
    if subject is None and reading.value("signed_digest") is None:
        return
    if subject is None:
        yield "note", "Who signed is not known", "the signer's certificate did not come along"
    else:
        yield _key(reading.value("signature_valid"), f"Signed by {text.plain(str(subject), 200)}")
        yield "", f"under {text.plain(str(issuer), 200)}", "who issued the signer's certificate, by its own words"
    algorithm = text.plain(str(reading.value("digest_algorithm") or ""), 40).upper()
    yield _matches(reading.value("digest_matches"), f"Digest {algorithm}".strip())
    yield from _chain(reading)
    yield from _times(reading, today)


def _key(holds: object, who: str) -> Said:
    if holds is True:
        return "good", who, "the key of that certificate made this signature"
    if holds is False:
        return "stop", f"{who}, as it says", "the key of that certificate did not make this signature"
    return "note", f"{who}, as it says", "whether the key of that certificate made it could not be checked"


def _chain(reading: Reading) -> Iterator[Said]:
    names = reading.value("chain_subjects")
    if not isinstance(names, tuple) or not names:
        return
    issuers = reading.value("chain_issuers")
    last = text.plain(str(issuers[-1]), 120) if isinstance(issuers, tuple) and issuers else "its issuer"
    if reading.value("chain_to_root"):
        end = "the last one vouches for itself; whether it is to be trusted is for you to know"
    else:
        end = f"the certificate of {last}, which issued the last one, did not come along"
    yield "", f"{text.begun(text.count(len(names), 'certificate'))}, each vouching for the one before", end


def _times(reading: Reading, today: date) -> Iterator[Said]:
    first, last = reading.value("valid_from"), reading.value("expires")
    if isinstance(first, str) and isinstance(last, str):
        now = today.isoformat()
        past = "that day is past" if last < now else "that day has not come" if first > now else "that holds today"
        yield "note", f"The signer's certificate runs from {first} to {last}", f"{past}; that alone decides nothing"
    stamp, valid = reading.value("timestamp"), reading.value("timestamp_valid")
    if isinstance(stamp, str):
        who = text.plain(str(reading.value("timestamp_by") or "somebody unnamed"), 120)
        proof = "their key made the time stamp" if valid else "the time stamp proves nothing"
        yield "note", f"{who} saw the signature at {text.plain(stamp, 40)}", proof
    elif isinstance(reading.value("signing_time"), str):
        yield "note", f"Signed at {text.plain(str(reading.value('signing_time')), 40)}", "as the signer says"
