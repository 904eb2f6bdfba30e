"""A sample of real files is told apart as their packages and `file` say: see `recognition`, which names its sources.

`python -m tests.bench.recognition` measures several thousand and prints the table of confusions.
"""

from __future__ import annotations

import functools
import shutil

import pytest

from tests.reference import recognition
from tests.reference.recognition import Table

pytestmark = pytest.mark.outside

CLAIMED = ("option-rom", "efi", "windows", "dos", "device-tree", "fcode", "dfu", "hex", "zip")


@functools.cache
def table() -> Table:
    if shutil.which("file") is None:
        pytest.skip("file is not here")
    return recognition.measure(recognition.SMALL, most=12, installed=200)


def test_the_sample_is_large_enough():
    assert table().files >= 500


def test_what_we_call_so_is_so():
    """Of what is called one of these kinds every file is one; a wrong one is worse than an unknown one."""
    for kind in CLAIMED:
        good, called = table().precision(kind)
        assert good == called, (kind, table().wrong)
    # An emulator's firmware for an old processor says in its ELF header that it is for Linux.
    good, called = table().precision("linux")
    assert good >= called - 2, table().wrong


def test_what_is_so_is_called_so():
    for kind in ("option-rom", "efi", "windows", "device-tree", "fcode", "dfu", "hex", "zip"):
        good, are = table().recall(kind)
        assert good == are, (kind, table().wrong)
    for kind in ("linux", "text", "other"):
        good, are = table().recall(kind)
        assert are and good / are >= 0.97, (kind, table().wrong)


def test_pictures_fonts_and_archives_are_no_firmware():
    for (truth, ours), names in table().wrong.items():
        assert not (truth in recognition.NOT_TOLD and truth != "other"), (truth, ours, names)
