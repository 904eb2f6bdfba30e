"""Signatures of PE images against what others made and say: Debian's `shim-signed`, `sbsigntool` and `osslsigncode`
with keys made here, and PyPI `lief`."""

from __future__ import annotations

import random
import shutil
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import lief
import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from catalogue.formats import pe
from catalogue.formats.view import BytesView
from catalogue.shapes.reading import Reading, SignedBy
from tests.formats.build_pe import MadePe
from tests.formats.build_pe import pe as build
from tests.formats.build_signature import Who, who
from tests.reference import debian
from tests.reference.windows_programs import launchers

pytestmark = pytest.mark.outside
SHIM = "usr/lib/shim/shimx64.efi.signed"


def read(data: bytes) -> Reading:
    reading = pe.read(BytesView(data))
    assert reading is not None
    return reading


def faults(reading: Reading) -> set[str]:
    return {one.code for part in (reading, *reading.parts) for one in part.faults}


def test_shim_is_signed_under_two_authorities():
    """UEFI CA 2011 and UEFI CA 2023 (which expire on 2026-06-27 and 2038-06-13, as Microsoft publishes)."""
    data = (debian.files("shim-signed") / SHIM).read_bytes()
    reading = read(data)
    assert not faults(reading)
    assert [one.issuer for one in reading.value("signed_by")] == [
        "Microsoft Corporation UEFI CA 2011",
        "Microsoft UEFI CA 2023",
    ]
    assert reading.value("digest_matches") is True
    assert [part.value("chain_expires")[1] for part in reading.parts] == ["2026-06-27", "2038-06-13"]
    for part in reading.parts:
        assert part.value("signature_valid") is True
        assert part.value("timestamp_valid") is True


def test_shim_against_lief():
    path = debian.files("shim-signed") / SHIM
    reading, other = read(path.read_bytes()), lief.PE.parse(path)
    assert len(other.signatures) == len(reading.parts)
    for part, signature in zip(reading.parts, other.signatures, strict=True):
        assert part.value("signed_digest") == signature.content_info.digest.hex()
        assert part.value("image_digest") == other.authentihash_sha256.hex()
        assert part.value("serial_number") == signature.signers[0].serial_number.hex()
        assert part.value("certificate_count") == len(signature.certificates)
        held = [one for one in signature.certificates if one.serial_number.hex() == part.value("serial_number")]
        assert part.value("expires") == "{:04}-{:02}-{:02}".format(*held[0].valid_to[:3])
        assert f"CN={part.value('subject')}" in held[0].subject.replace("\\", "")


def test_shim_against_openssl(tmp_path: Path):
    """`openssl pkcs7` lists the certificates of each entry with the same names and fingerprints."""
    if shutil.which("openssl") is None:
        pytest.skip("openssl is not here")
    data = (debian.files("shim-signed") / SHIM).read_bytes()
    for part in read(data).parts:
        body = data[part.offset + 8 : part.offset + part.length]
        (tmp_path / "p7").write_bytes(body)
        listed = subprocess.run(
            ["openssl", "pkcs7", "-inform", "DER", "-in", str(tmp_path / "p7"), "-print_certs"],
            capture_output=True,
            text=True,
            check=True,
        )
        for name in part.value("chain_subjects"):
            assert f"CN = {name}\n" in listed.stdout
        pems = [f"{one}-----END CERTIFICATE-----\n" for one in listed.stdout.split("-----END CERTIFICATE-----\n")[:-1]]
        loaded = [x509.load_pem_x509_certificate(one[one.index("-----BEGIN") :].encode()) for one in pems]
        assert set(part.value("chain_sha256")) <= {one.fingerprint(SHA256()).hex() for one in loaded}


@pytest.mark.parametrize("package", ["grub-efi-amd64-signed", "shim-helpers-amd64-signed"])
def test_images_that_debian_signs(package: str):
    """Signed by Debian's own authority, whose certificate does not come along; sbverify lists the same names."""
    lister = debian.program("sbsigntool", "usr/bin/sbverify")
    found = sorted(debian.files(package).rglob("*.efi.signed"))
    assert found
    for path in found[:2]:
        reading = read(path.read_bytes())
        assert not faults(reading)
        assert reading.value("digest_matches") is True
        (one,) = reading.value("signed_by")
        assert one.issuer == "Debian Secure Boot CA"
        listed = subprocess.run([lister, "--list", str(path)], capture_output=True, text=True, check=True).stdout
        assert f"subject: /CN={one.subject}\n" in listed
        assert reading.parts[0].value("image_digest") == lief.PE.parse(path).authentihash_sha256.hex()


def test_launchers_are_unsigned():
    """PyPI `distlib`'s and `setuptools`' launchers, of which lief says the same."""
    for path in launchers():
        assert read(path.read_bytes()).value("signed_by") == ()
        assert not lief.PE.parse(path).has_signatures


class Bench:
    """sbsign and sbverify, an image and two keys, each with its certificate, in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.sign = debian.program("sbsigntool", "usr/bin/sbsign")
        self.verify = debian.program("sbsigntool", "usr/bin/sbverify")
        self.attach = debian.program("sbsigntool", "usr/bin/sbattach")
        self.people = {name: self._keep(name, number) for number, name in enumerate(("Corvane", "Brinewell"), 50)}
        (folder / "image").write_bytes(build(MadePe(code=random.Random(5).randbytes(3000))))

    def _keep(self, name: str, number: int) -> Who:
        made = who(f"{name} Firmware", number, key=rsa.generate_private_key(65537, 2048))
        key = made.key.private_bytes(Encoding.PEM, PrivateFormat.TraditionalOpenSSL, NoEncryption())
        (self.folder / f"{name}.key").write_bytes(key)
        (self.folder / f"{name}.pem").write_bytes(made.certificate.public_bytes(Encoding.PEM))
        return made

    def run(self, *command: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(command, cwd=self.folder, capture_output=True, text=True, check=False)

    def signed(self, name: str, source: str = "image") -> bytes:
        done = self.run(self.sign, "--key", f"{name}.key", "--cert", f"{name}.pem", "--output", "signed", source)
        assert done.returncode == 0, done.stderr
        return (self.folder / "signed").read_bytes()

    def verified(self, data: bytes, name: str) -> bool:
        (self.folder / "asked").write_bytes(data)
        return self.run(self.verify, "--cert", f"{name}.pem", "asked").returncode == 0

    def by(self, name: str) -> SignedBy:
        one = self.people[name].certificate
        day = one.not_valid_after_utc.date().isoformat()
        return SignedBy(f"{name} Firmware", f"{name} Firmware", day)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def agree(bench: Bench, data: bytes) -> Reading:
    """Our answer, which must be sbverify's for each of the two keys: signed by them, over these bytes."""
    reading = read(data)
    for name in bench.people:
        ours = reading.value("digest_matches") is True and bench.by(name) in reading.value("signed_by")
        assert ours is bench.verified(data, name), name
    return reading


def test_signed_by_sbsign(bench: Bench):
    reading = agree(bench, bench.signed("Corvane"))
    assert reading.value("signed_by") == (bench.by("Corvane"),)
    assert not faults(reading)
    assert reading.parts[0].value("chain_to_root") is True
    assert reading.parts[0].value("signing_time")[:4] == str(datetime.now(UTC).year)


def test_signed_by_somebody_else(bench: Bench):
    assert agree(bench, bench.signed("Brinewell")).value("signed_by") == (bench.by("Brinewell"),)


def test_two_signatures_of_sbsign(bench: Bench):
    bench.signed("Corvane")
    reading = agree(bench, bench.signed("Brinewell", "signed"))
    assert reading.value("signed_by") == (bench.by("Corvane"), bench.by("Brinewell"))


def test_tampered(bench: Bench):
    """A bit flipped anywhere before the table; where sbverify reads the file as we do, it agrees."""
    data = bench.signed("Corvane")
    table = read(data).value("certificate_table_offset")
    assert isinstance(table, int)
    chance = random.Random(8)
    for _ in range(60):
        at = chance.randrange(0x200, table)
        mutant = data[:at] + bytes([data[at] ^ 1 << chance.randrange(8)]) + data[at + 1 :]
        reading = agree(bench, mutant)
        assert reading.value("digest_matches") is False
        assert faults(reading) == {"signature-broken"}


def test_stripped(bench: Bench):
    bench.signed("Corvane")
    assert bench.run(bench.attach, "--remove", "signed").returncode == 0
    reading = agree(bench, (bench.folder / "signed").read_bytes())
    assert reading.value("signed_by") == ()
    assert not reading.parts
    assert not faults(reading)


def test_appended(bench: Bench):
    data = bench.signed("Corvane") + b"sixteen bytes on"
    reading = read(data)
    assert reading.value("digest_matches") is False
    assert not bench.verified(data, "Corvane")


@pytest.mark.parametrize("way", [[], ["-h", "sha1"], ["-h", "sha384"], ["-ph"]])
def test_signed_by_osslsigncode(bench: Bench, way: list[str]):
    """Another signer, with page hashes beside the digest too; a second run nests its signature in the first."""
    program = shutil.which("osslsigncode") or debian.program("osslsigncode", "usr/bin/osslsigncode")
    ends = ["-in", "image", "-out", "once"]
    done = bench.run(program, "sign", "-certs", "Corvane.pem", "-key", "Corvane.key", *way, *ends)
    assert done.returncode == 0, done.stdout
    once = read((bench.folder / "once").read_bytes())
    assert not faults(once)
    assert once.value("signed_by") == (bench.by("Corvane"),)
    ends = ["-in", "once", "-out", "twice"]
    done = bench.run(
        program, "sign", "-nest", "-certs", "Brinewell.pem", "-key", "Brinewell.key", "-h", "sha512", *ends
    )
    assert done.returncode == 0, done.stdout
    data = (bench.folder / "twice").read_bytes()
    twice = read(data)
    assert not faults(twice)
    assert twice.value("signed_by") == (bench.by("Corvane"), bench.by("Brinewell"))
    assert [one.value("nested") for one in twice.parts] == [False, True]
    spoilt = read(data[:0x300] + bytes([data[0x300] ^ 4]) + data[0x301:])
    assert [one.value("digest_matches") for one in spoilt.parts] == [False, False]


@pytest.mark.parametrize("package", ["systemd-boot-efi", "ipxe"])
def test_real_images_signed_here(bench: Bench, package: str):
    """Real EFI images of Debian, signed with our key: sbverify agrees, and lief has the same digest."""
    found = sorted(
        path
        for path in debian.files(package).rglob("*")
        if path.suffix.lower() in (".efi", ".efidrv") and path.is_file()
    )
    if not found:
        pytest.skip(f"{package} brings no loose EFI image")
    for path in found[:4]:
        (bench.folder / "image").write_bytes(path.read_bytes())
        data = bench.signed("Corvane")
        reading = agree(bench, data)
        assert reading.value("digest_matches") is True
        assert reading.parts[0].value("image_digest") == lief.PE.parse(list(data)).authentihash_sha256.hex()
