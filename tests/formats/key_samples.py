"""Secure Boot lists for the readers' battery."""

from __future__ import annotations

from tests.contracts.sample import Sample
from tests.formats.build_keys import CERTIFICATE, CERTIFICATE_SHA256, IMAGE_SHA256, keys, saved, update
from tests.formats.build_signature import ROOT

NAME, KIND = "efi-signature-list", "signature-list/efi"
SAMPLES = (
    Sample(NAME, "two digests", KIND, keys(IMAGE_SHA256, bytes(range(32)), bytes(32))),
    Sample(NAME, "a saved variable with a certificate", KIND, saved(keys(CERTIFICATE, ROOT.der))),
    Sample(NAME, "an update", KIND, update(keys(CERTIFICATE_SHA256, bytes(48)))),
    Sample(NAME, "cut short", KIND, keys(IMAGE_SHA256, bytes(32))[:50]),
)
