"""Capsules of two makers that differ, against our reading: PyPI edk2-pytool-library (20h header, payload header 2) and
mkeficapsule of Debian u-boot-tools (1Ch header, payload header 3). Ours are read back by edk2-pytool-library too."""

import hashlib
import shutil
import subprocess
import uuid
from pathlib import Path

import pytest

from catalogue.formats.capsule import read
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading, SignedBy
from tests.contracts import battery
from tests.formats.build_pe import pe
from tests.formats.build_rom import Made as Rom
from tests.formats.build_rom import image
from tests.reference import debian

pytestmark = [
    pytest.mark.outside,
    # The library calls its own older names (0.23).
    pytest.mark.filterwarnings("ignore:.*is deprecated, use.*:DeprecationWarning:edk2toollib"),
]
TYPE = "f2340010-0001-4002-8003-000000000064"


def sound(data: bytes) -> Reading:
    reading = read(BytesView(data))
    assert reading is not None
    battery.examine(reading, len(data))
    assert reading.faults == reading.notes == ()
    return reading


def edk2_capsule(drivers: tuple[bytes, ...] = (), count: int = 1, own: bytes = b"") -> bytes:
    pytest.importorskip("edk2toollib")
    from edk2toollib.uefi.edk2.fmp_payload_header import FmpPayloadHeaderClass
    from edk2toollib.uefi.fmp_auth_header import FmpAuthHeaderClass
    from edk2toollib.uefi.fmp_capsule_header import FmpCapsuleHeaderClass, FmpCapsuleImageHeaderClass
    from edk2toollib.uefi.uefi_capsule_header import UefiCapsuleHeaderClass

    items = FmpCapsuleHeaderClass()
    for driver in drivers:
        items.AddEmbeddedDriver(driver)
    for number in range(count):
        firmware = FmpPayloadHeaderClass()
        firmware.FwVersion, firmware.LowestSupportedVersion = 0x0001_0000 + number, 1
        firmware.Payload = image(Rom(blocks=1, device=0x64 + number))
        signature = FmpAuthHeaderClass()
        signature.MonotonicCount = 40 + number
        signature.AuthInfo.cert_data = b"no real signature"
        signature.FmpPayloadHeader = firmware
        one = FmpCapsuleImageHeaderClass()
        one.UpdateImageTypeId = uuid.UUID(TYPE)
        one.UpdateImageIndex = number + 1
        one.UpdateHardwareInstance = 0x1122334455667788
        one.VendorCodeBytes = own
        one.FmpAuthHeader = signature
        items.AddFmpCapsuleImageHeader(one)
    whole = UefiCapsuleHeaderClass()
    whole.OemFlags = 5
    whole.PersistAcrossReset = whole.InitiateReset = True
    whole.FmpCapsuleHeader = items
    return bytes(whole.Encode())


def test_what_edk2_encodes():
    data = edk2_capsule((pe(), pe()), 3, b"own bytes")
    reading = sound(data)
    assert (reading.value("header_size"), reading.value("flags")) == (0x20, 0x50005)
    assert (reading.value("persist_across_reset"), reading.value("populate_system_table")) == (True, False)
    assert (reading.value("driver_count"), reading.value("payload_count")) == (2, 3)
    assert [part.kind for part in reading.parts] == ["efi-driver"] * 2 + ["capsule-payload"] * 3
    for number, part in enumerate(reading.parts[2:]):
        assert part.value("payload_version") == 2
        assert part.value("image_type") == TYPE.upper()
        assert part.value("image_index") == number + 1
        assert part.value("hardware_instance") == 0x1122334455667788
        assert part.value("vendor_code_size") == 9
        assert part.value("monotonic_count") == 40 + number
        assert part.value("authenticated") is True
        assert (part.value("firmware_version"), part.value("lowest_supported_version")) == (0x10000 + number, 1)
        rom, damaged = part.parts
        assert rom.ids[0].device == 0x64 + number
        assert [one.code for one in damaged.faults] == ["signature-damaged"]  # the library was given no real one


def test_edk2_reads_the_same():
    """What edk2's own decoder finds in a capsule stands in our fields."""
    from edk2toollib.uefi.uefi_capsule_header import UefiCapsuleHeaderClass

    data = edk2_capsule(count=2)
    theirs = UefiCapsuleHeaderClass()
    theirs.Decode(data)
    reading = sound(data)
    assert theirs.CapsuleImageSize == reading.value("capsule_size")
    for index, part in enumerate(reading.parts):
        one = theirs.FmpCapsuleHeader.GetFmpCapsuleImageHeader(index)
        assert one.Version == part.value("payload_version")
        assert str(one.UpdateImageTypeId).upper() == part.value("image_type")
        assert one.UpdateImageSize == part.value("image_size")
        start = part.value("firmware_offset")
        assert isinstance(start, int)
        firmware = one.FmpAuthHeader.FmpPayloadHeader.Payload
        assert data[start : start + len(firmware)] == firmware


def mkeficapsule(folder: Path, *arguments: str) -> bytes:
    program = debian.program("u-boot-tools", "usr/bin/mkeficapsule")
    rom = folder / "heron.rom"
    rom.write_bytes(image(Rom(blocks=1)))
    out = folder / "out.cap"
    done = subprocess.run([program, *arguments, str(rom), str(out)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return out.read_bytes()


def test_what_mkeficapsule_makes(tmp_path: Path):
    data = mkeficapsule(tmp_path, "-g", TYPE, "-i", "3", "-I", "9", "-o", "0x8001")
    reading = sound(data)
    assert (reading.value("header_size"), reading.value("capsule_size")) == (0x1C, len(data))
    flags = reading.value("flags")
    assert isinstance(flags, int)
    assert flags & 0xFFFF == 0x8001
    (part,) = reading.parts
    assert (part.value("payload_version"), part.value("image_index")) == (3, 3)
    assert (part.value("image_type"), part.value("hardware_instance")) == (TYPE.upper(), 9)
    assert part.value("authenticated") is False
    (rom,) = part.parts
    assert (rom.kind, rom.length) == ("option-rom/legacy-x86", 512)
    assert data.endswith((tmp_path / "heron.rom").read_bytes())


def test_what_mkeficapsule_signs(tmp_path: Path):
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("openssl is not here")
    key, certificate = tmp_path / "key.pem", tmp_path / "certificate.pem"
    request = ["req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=Saltmarsh"]
    subprocess.run([openssl, *request, "-keyout", key, "-out", certificate], capture_output=True, check=True)
    data = mkeficapsule(tmp_path, "-g", TYPE, "-i", "1", "-m", "6", "-p", str(key), "-c", str(certificate))
    reading = sound(data)
    (part,) = reading.parts
    assert part.value("authenticated") is True
    assert part.value("capabilities") == 1
    assert part.value("monotonic_count") == 6
    assert part.value("certificate_guid") == "4AAFD29D-68DF-49EE-8AA9-347D375665A7"
    rom, signature = part.parts
    assert rom.kind == "option-rom/legacy-x86"
    assert (signature.kind, signature.value("signature_valid")) == ("signature/capsule", True)
    assert (signature.value("subject"), signature.value("chain_to_root")) == ("Saltmarsh", True)
    der = subprocess.run([openssl, "x509", "-in", certificate, "-outform", "DER"], capture_output=True, check=True)
    assert signature.value("certificate_sha256") == hashlib.sha256(der.stdout).hexdigest()
    signed_by = part.value("signed_by")
    assert isinstance(signed_by, tuple)
    assert [one.subject for one in signed_by if isinstance(one, SignedBy)] == ["Saltmarsh"]
    # OpenSSL takes the same signature over image and count, and refuses it where we do.
    start = signature.offset + signature.length
    for name, content in (("same", data[start:] + data[start - signature.length - 32 :][:8]), ("other", data[start:])):
        (tmp_path / name).write_bytes(content)
        (tmp_path / "p7").write_bytes(data[signature.offset : start])
        words = ["cms", "-verify", "-binary", "-inform", "DER", "-in", tmp_path / "p7", "-content", tmp_path / name]
        words += ["-CAfile", certificate, "-purpose", "any", "-out", tmp_path / "out"]
        done = subprocess.run([openssl, *words], capture_output=True, check=False)
        assert (done.returncode == 0) == (name == "same"), done.stderr
    for at in (start, len(data) - 1, part.offset + 48):  # first and last byte of the firmware, the count
        mutant = bytearray(data)
        mutant[at] ^= 1
        reading = read(BytesView(bytes(mutant)))
        assert reading is not None
        broken = reading.parts[0].parts[-1]
        assert broken.value("signature_valid") is False
        assert [one.code for one in broken.faults] == ["signature-broken"]
        assert reading.parts[0].value("signed_by") == ()


@pytest.mark.parametrize(
    ("option", "name"), [("-A", "acceptance of firmware"), ("-R", "return to the firmware before")]
)
def test_capsules_without_payload(tmp_path: Path, option: str, name: str):
    program = debian.program("u-boot-tools", "usr/bin/mkeficapsule")
    out = tmp_path / "out.cap"
    arguments = [option, *(["-g", TYPE] if option == "-A" else []), str(out)]
    subprocess.run([program, *arguments], capture_output=True, check=True)
    reading = sound(out.read_bytes())
    assert reading.title.startswith(f"UEFI capsule, {name}")
