"""Update packages, firmware volumes and what else carries firmware, for the readers' battery."""

from __future__ import annotations

from tests.contracts.sample import Sample
from tests.formats import build_pldm
from tests.formats.build_rom import Made, image

ROM = image(Made(blocks=1))

SAMPLES = (
    *(Sample("pldm-package", f"revision {one}", "pldm-package", build_pldm.full(one)) for one in (1, 2, 3, 4)),
    Sample(
        "pldm-package",
        "an option ROM as component",
        "pldm-package",
        build_pldm.package(build_pldm.Made(components=(build_pldm.Component(ROM),))),
    ),
)
