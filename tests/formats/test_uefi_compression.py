"""UEFI compression by hand, bit by bit (UEFI Specification, chapter 19), by a packer of the tests' own, and against
PyPI `uefi-firmware` 1.16, both ways."""

import random
import struct
import time
import tracemalloc
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.formats import limits, uefi_compression
from catalogue.formats.uefi_compression import Unpacked, unpack
from tests.formats.build_rom import driver
from tests.formats.build_uefi_stream import Bits, codes, header, pack
from tests.fuzz import uefi_compression as campaign

ONE_LETTER = """
0000000000000011 00000 00000 000000000 001100001 0000 0000
"""  # three symbols; no code of lengths; the one character 61h; the one distance
WORD = """
0000000000000011
00101 000 000 001 00 010 010
100000010 0 001001101 10 11 0 010001010 11
0000 0001
0 10 11
"""
"""Three symbols. Code of lengths: 5 of them, 0 0 1 (no further zeros) 2 2, so 2 is 0, 3 is 10, 4 is 11. Characters:
258 lengths: 97 zeros (20 + 77), 1 for "a", 2 for "b", 158 zeros (20 + 138), 2 for a match of 4. The one distance is 2.
Then "a", "b", and 4 bytes from 2 back."""


def words(chance: random.Random, length: int) -> bytes:
    some = [chance.randbytes(chance.randrange(1, 40)) for _ in range(300)]
    return b"".join(chance.choices(some, k=length // 10))[:length].ljust(length, b"\0")


def test_one_letter():
    assert unpack(Bits(ONE_LETTER).stream(3)) == Unpacked(b"aaa", 3, 16)


def test_a_match_over_its_own_bytes():
    assert unpack(Bits(WORD).stream(6)).data == b"ababab"


def test_what_follows_the_stream_is_not_looked_at():
    stream = Bits(WORD).stream(6)
    assert unpack(stream + b"\xff" * 600) == Unpacked(b"ababab", 6, len(stream))


def test_nothing_packed():
    assert unpack(struct.pack("<II", 0, 0)).data == b""


@pytest.mark.parametrize("distance", [1, 2, 3, 4, 5, 8, 9, 100, 4097, 8192])
def test_every_power_of_two_of_a_distance(distance: int):
    data = random.Random(distance).randbytes(distance)
    data += data[:200] if distance > 200 else (data * 200)[:200]
    assert unpack(pack(data)).data == data


@given(st.binary(max_size=300) | st.lists(st.sampled_from([b"ab", b"\0" * 300, b"xyz"])).map(b"".join), st.data())
def test_what_is_packed_is_unpacked(data: bytes, draw: st.DataObject):
    assert unpack(pack(data, block=draw.draw(st.integers(1, 400)))).data == data


@settings(max_examples=60)
@given(st.binary(max_size=2_000))
def test_noise_is_an_answer(noise: bytes):
    unpack(noise)
    answer = unpack(struct.pack("<II", len(noise), 700) + noise)
    assert answer.data is None or len(answer.data) == 700


@pytest.mark.parametrize("block", [16_384, 300])
def test_a_stream_longer_than_one_stretch_of_windows(block: int):
    data = words(random.Random(3), 60_000) + random.Random(4).randbytes(30_000)
    packed = pack(data, block)
    assert len(packed) > 3 * uefi_compression._CHUNK
    assert unpack(packed).data == data


class TestDamage:
    """Every way a stream can be no stream, planted one at a time."""

    @pytest.mark.parametrize("length", range(8))
    def test_no_sizes(self, length: int):
        answer = unpack(pack(b"driver")[:length])
        assert (answer.data, answer.damaged, answer.why) == (None, True, "It ends inside its two sizes.")

    def test_every_prefix(self):
        packed = pack(driver())
        for length in range(8, len(packed)):
            answer = unpack(packed[:length])
            assert answer.data is None
            assert answer.damaged
            assert "are there" in answer.why

    def test_every_prefix_that_says_so(self):
        packed = pack(driver(), tail=b"")
        for length in range(8, len(packed)):
            answer = unpack(struct.pack("<I", length - 8) + packed[4:length])
            assert answer.data is None
            assert answer.damaged

    @pytest.mark.parametrize(
        ("bits", "size", "why"),
        [
            (ONE_LETTER, 2, "A block of 3 symbols is to make 2 bytes"),
            (ONE_LETTER.replace("011 ", "000 ", 1), 3, "A block of 0 symbols"),
            (ONE_LETTER.replace("001100001", "111111110"), 3, "Symbol 510"),
            (WORD + "1", 6, "Bits that belong to no block"),
            (WORD, 5, "It makes more than the 5 bytes"),
            (WORD, 7, "A block of 0 symbols"),
            (WORD.replace("0000 0001", "0000 0010") + "0", 6, "A match begins before the first byte"),
            (WORD.replace("0 10 11\n", "11 0 10\n"), 6, "A match begins before the first byte"),
            (WORD.replace("00101 ", "10100 "), 6, "A code of 20 symbols"),
            (WORD.replace("100000010 ", "111111111 "), 6, "A code of 511 symbols"),
            (WORD.replace("001 00 010 010", "001 00 010 011"), 6, "do not make a complete code"),
            (WORD.replace("001 00 010 010", "001 00 001 010"), 6, "do not make a complete code"),
            (WORD.replace("001 00 010 010", "000 00 000 000"), 6, "do not make a complete code"),
            (WORD.replace("0 010001010 11", "0 010001100 11"), 6, "A run of code lengths goes past"),
            (WORD.replace("001 00 010", "001 00 111 1111111111"), 6, "A code of more than 16 bits"),
        ],
    )
    def test_planted(self, bits: str, size: int, why: str):
        answer = unpack(Bits(bits).stream(size))
        assert answer.data is None
        assert answer.damaged
        assert why in answer.why

    def test_a_code_of_lengths_too_long_for_a_code(self):
        """Its one symbol is 19, which would make every character's code 17 bits long."""
        answer = unpack(Bits("0000000000000001 00000 10011 000000010").stream(1))
        assert (answer.data, answer.damaged) == (None, True)

    def test_a_stream_that_ends_in_its_last_symbols(self):
        """Its windows reach 16 zero bits further; that the symbols end there is noticed all the same."""
        bits = Bits()
        header(bits, 5)
        bits.text += codes(header_lengths())[0] * 5
        whole = bits.stream(5, b"")
        assert unpack(whole).data == bytes(5)
        short = struct.pack("<I", len(whole) - 9) + whole[4:-1]
        assert unpack(short).why == "The stream ends before its last symbol."

    def test_any_bit_of_the_packed_bytes_changed_is_refused_or_gives_as_many_bytes(self):
        data = driver()
        packed = pack(data)
        taken = 0
        for bit in range(64, 8 * len(packed)):
            hurt = bytearray(packed)
            hurt[bit >> 3] ^= 128 >> (bit & 7)
            answer = unpack(bytes(hurt))
            assert answer.damaged if answer.data is None else len(answer.data) == len(data)
            taken += answer.data is not None
        assert 0 < taken < 8 * len(packed) / 2

    def test_tiano(self):
        """The other kind's stream: one bit more before the lengths of the distances."""
        packed = Bits(WORD.replace("0000 0001", "00000 00001"))
        assert unpack(packed.stream(6)).damaged


def header_lengths() -> list[int]:
    return [8, 8, *[9] * 508]


class TestBounds:
    def test_a_size_over_the_most(self):
        packed = pack(b"driver" * 10)
        assert unpack(packed, 60).data == b"driver" * 10
        answer = unpack(packed, 59)
        assert (answer.data, answer.damaged, answer.size) == (None, False, 60)
        assert "59 are the most" in answer.why
        huge = unpack(packed[:4] + struct.pack("<I", limits.MAX_UNPACKED + 1) + packed[8:])
        assert (huge.data, huge.damaged) == (None, False)

    def test_a_bomb(self):
        """Matches of 256 bytes take no bits where they are all a block holds: 4 MB from 30 bytes."""
        start = "0000000000000001 00000 00000 000000000 001100001 0000 0000"
        bits = "0011111010000000 00000 00000 000000000 111111101 0000 0000"
        bomb = Bits(start + bits).stream(1 + 16_000 * 256)
        answer = unpack(bomb)
        assert (answer.data, answer.damaged) == (None, False)
        most = limits.MAX_UNPACK_FREE + limits.MAX_UNPACK_RATIO * (len(bomb) - 8)
        assert answer.why == f"It would unpack to 4096001 bytes; {most} are the most that are unpacked."
        assert unpack(bomb[:4] + struct.pack("<I", most) + bomb[8:]).damaged  # within the bound it is looked into

    def test_many_symbols_of_few_bits(self):
        """A block of one character takes no bits a symbol: 9 bytes for 65,535."""
        block = ONE_LETTER.replace("0000000000000011", "1" * 16)
        answer = unpack(Bits(block * 7).stream(7 * 65_535))
        assert (answer.data, answer.damaged) == (None, False)
        assert "too long to unpack" in answer.why

    def test_many_blocks_with_long_codes(self):
        """Each needs a table of 65,536 entries; time is bounded by what they cost."""
        bits = Bits()
        bits.put(1, 16)
        bits.text += "10011 000 000 000 00"
        # lengths of 3 to 18 (for codes of 1 to 16 bits) at 4 bits each
        bits.text = bits.text.replace(" ", "") + "100" * 16
        bits.put(17, 9)
        lengths = [*range(1, 17), 16]
        code = codes([0, 0, 0, *[4] * 16])
        bits.text += "".join(code[one + 2] for one in lengths) + "0000" + "0000" + "0"
        assert unpack(bits.stream(1)).data == b"\0"
        started = time.process_time()
        answer = unpack(Bits(bits.text * 3_000).stream(3_000))
        assert time.process_time() - started < 1
        assert (answer.data, answer.damaged) == (None, False)

    def test_memory(self):
        """Twice what it unpacks to."""
        zeros = pack(bytes(500_000))
        tracemalloc.start()
        try:
            assert unpack(zeros).data == bytes(500_000)
            most = tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()
        assert most < 2_500_000

    def test_a_match_that_overshoots_makes_little_more_than_was_declared(self):
        bits = "0011111010000000 00000 00000 000000000 111111101 0000 0000"  # 16,000 matches of 256, from 1 back
        start = "0000000000000001 00000 00000 000000000 001100001 0000 0000"
        tracemalloc.start()
        try:
            answer = unpack(Bits(start + bits).stream(70_000))
            most = tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()
        assert answer.damaged
        assert most < 6 << 20


@pytest.mark.outside
def test_both_ways_with_another_implementation():
    pytest.importorskip("uefi_firmware.efi_compressor", reason="PyPI uefi-firmware is not installed")
    saw = campaign.rounds(20_26, 150)
    assert saw["packed there, unpacked here"] == 150
    assert saw["Tiano refused"] > 80
    assert saw["damaged, taken by both alike"] > 0


@pytest.mark.outside
@pytest.mark.parametrize("block", [16_384, 100])
def test_streams_of_our_packer_unpack_there(block: int):
    other = pytest.importorskip("uefi_firmware.efi_compressor", reason="PyPI uefi-firmware is not installed")
    for length in (0, 1, 2, 3, 500, 20_000):
        data = words(random.Random(length), length)
        packed = pack(data, block)
        assert unpack(packed).data == data
        if data:
            assert bytes(other.EfiDecompress(packed, len(packed))) == data


def test_the_campaign_sees_a_decoder_that_is_wrong(monkeypatch: pytest.MonkeyPatch):
    pytest.importorskip("uefi_firmware.efi_compressor", reason="PyPI uefi-firmware is not installed")
    real = uefi_compression._distance
    monkeypatch.setattr(uefi_compression, "_distance", lambda bits, symbol: real(bits, symbol ^ (symbol == 5)))
    with pytest.raises(AssertionError):
        campaign.rounds(1, 60)


def test_the_campaign_has_its_command():
    assert Path(campaign.__file__).name == "uefi_compression.py"
    assert "python -m tests.fuzz.uefi_compression" in (campaign.__doc__ or "")
