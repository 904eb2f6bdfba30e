"""What lies in every downloads folder and belongs to no card."""

from __future__ import annotations

import struct
from zlib import adler32, crc32

from sample_bundles.deflate import deflate
from sample_bundles.item import Item


def _picture() -> bytes:
    """A small picture (PNG, ISO/IEC 15948): grey steps, 32 by 32."""
    rows = b"".join(b"\0" + bytes((x * y) & 0xFF for x in range(32)) for y in range(32))
    stream = b"\x78\x01" + deflate(rows) + struct.pack(">I", adler32(rows))
    chunks = ((b"IHDR", struct.pack(">IIBBBBB", 32, 32, 8, 0, 0, 0, 0)), (b"IDAT", stream), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", crc32(name + body)) for name, body in chunks
    )


def _document() -> bytes:
    """A one-page document (PDF 1.4, ISO 32000)."""
    objects = (
        b"<</Type/Catalog/Pages 2 0 R>>",
        b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 300 200]/Contents 4 0 R/Resources<</Font<</F1 5 0 R>>>>>>",
        b"<</Length 55>>stream\nBT /F1 12 Tf 20 150 Td (Delivery note 2291: 14 cards) Tj ET\nendstream",
        b"<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>",
    )
    out, places = bytearray(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n"), []
    for number, body in enumerate(objects, 1):
        places.append(len(out))
        out += f"{number} 0 obj\n".encode() + body + b"\nendobj\n"
    start = len(out)
    out += b"xref\n0 6\n0000000000 65535 f \n" + b"".join(f"{place:010d} 00000 n \n".encode() for place in places)
    return bytes(out) + f"trailer\n<</Size 6/Root 1 0 R>>\nstartxref\n{start}\n%%EOF\n".encode()


def items() -> tuple[Item, ...]:
    """Files that no role of any family takes."""
    return (
        Item("Screenshot 2026-02-11.png", _picture(), what="a picture"),
        Item("delivery note 2291.pdf", _document(), what="a document"),
        Item("storage cards - forum.html", b"<!DOCTYPE html>\n<html><body><p>My card vanished after I wrote zeros."
             b"</p></body></html>\n", what="a web page"),
        Item("saltmarsh-stock.csv", b"tag,maker,what\r\n0017,Corvane,storage card\r\n0018,Brinewell,network card\r\n",
             what="a table"),
        Item("scripts/tidy.bat", b"@ECHO OFF\r\nDEL *.TMP\r\n", what="a script for DOS"),
        Item("scripts/sync.sh", b"#!/bin/sh\nexec cp -r \"$1\" \"$2\"\n", what="a script for Linux"),
        Item("New Text Document.txt", b"", what="an empty file"),
        Item("Überblick – Werkbank.txt", b"Karten links, Stecker rechts. Handschuhe an.\n", what="a note"),
        Item("札.txt", "0017 〜 0030\n".encode(), what="a note"),
    )
