"""All classes of fault, by name."""

from __future__ import annotations

from collections.abc import Mapping

from tests.campaign import classes_bytes, classes_eeprom
from tests.campaign.mutant import FaultClass

CLASSES: Mapping[str, FaultClass] = {
    one.name: one for group in (classes_bytes.CLASSES, classes_eeprom.CLASSES) for one in group
}
