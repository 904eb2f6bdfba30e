from hypothesis import given
from hypothesis import strategies as st

from catalogue.shapes.piece import INTO
from catalogue.shapes.reading import CardId, Field
from ui import text


@given(st.text(max_size=300))
def test_nothing_hidden_is_left_in_text_from_files(said):
    shown = text.plain(said)
    assert not any(0x202A <= ord(one) <= 0x202E or ord(one) < 0x20 or 0x2066 <= ord(one) <= 0x2069 for one in shown)


@given(st.text(max_size=300))
def test_a_tool_tip_is_never_markup_of_the_file(said):
    inner = text.tip(said).removeprefix("<p>").removesuffix("</p>")
    assert "<" not in inner
    assert ">" not in inner


@given(st.integers(0, 1 << 40))
def test_sizes_are_never_empty_and_exact_when_small(count):
    said = text.size(count)
    assert said
    if 1 < count < 10_240:
        assert said == f"{count:,} bytes"


def test_the_sign_between_archive_and_member_is_the_shapes_own():
    assert text.INTO == INTO
    assert text.short_place(f"/a/b/c/d.zip{INTO}e/f.rom") == f"b/c/d.zip{INTO}e/f.rom"
    assert text.around(f"/a/b.zip{INTO}e/f.rom") == "/a/b.zip"
    assert text.around("/a/b/f.rom") == "/a/b"
    assert text.last_name(f"/a/b.zip{INTO}e/f.rom") == "f.rom"


def test_values_read_as_the_trade_writes_them():
    assert text.value(Field("vendor_id", 0xF234)) == "F234h"
    assert text.value(Field("class_code", 0x010400)) == "010400h"
    assert text.value(Field("length", 512)) == "512 (0200h)"
    assert text.value(Field("last_image", False)) == "no"
    assert text.value(Field("device_list", (0x0C80, 0x0C81))) == "0C80h, 0C81h"
    assert text.value(Field("note", None)) == "not given"
    assert text.pci_id(CardId(0xF234, 0x0C80, (0x0C80, 0x0C81))) == "F234:0C80 and 1 more"
    assert text.name_of("legacy-boot-rom") == "legacy boot ROM"
    assert text.count(0, "piece") == "no pieces"
    assert text.count(1, "piece") == "1 piece"
    assert text.count(1200, "piece") == "1,200 pieces"


def test_digests_are_cut_to_their_beginning_and_other_words_are_left():
    digest = "3a2dae831d625bbcb811de8120d792f69491c346103c5bbc1eb80843d965170c"
    assert text.short_digests(f"sha256 {digest}; missing") == "sha256 3a2dae831d62…; missing"
    assert text.short_digests("F234:0C80 and 500605b0" + "0" * 8) == "F234:0C80 and 500605b0" + "0" * 8
