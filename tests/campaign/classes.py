"""All classes of fault, by name."""

from __future__ import annotations

from collections.abc import Mapping

from tests.campaign import classes_archives, classes_bytes, classes_choice, classes_eeprom, classes_rom
from tests.campaign.mutant import FaultClass

_GROUPS = (classes_bytes, classes_rom, classes_eeprom, classes_choice, classes_archives)
CLASSES: Mapping[str, FaultClass] = {one.name: one for group in _GROUPS for one in group.CLASSES}
