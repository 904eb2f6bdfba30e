"""Checksum lists in the spellings that makers' pages and tools use (GNU coreutils, BSD, OpenSSL)."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

from sample_bundles.item import Item


def digest(algorithm: str, data: bytes) -> str:
    """The hex digest; `algorithm` is md5, sha1, sha256 or sha512."""
    return hashlib.new(algorithm, data, usedforsecurity=False).hexdigest()


def coreutils(items: Iterable[Item], algorithm: str = "sha256", mark: str = " ") -> bytes:
    """`HASH  name` a line, as sha256sum prints it; `mark` is "*" for its binary mode."""
    return "".join(f"{digest(algorithm, one.data)} {mark}{one.name}\n" for one in items).encode()


def bsd(items: Iterable[Item], algorithm: str = "sha256") -> bytes:
    """`SHA256 (name) = HASH` a line."""
    return "".join(f"{algorithm.upper()} ({one.name}) = {digest(algorithm, one.data)}\n" for one in items).encode()


def openssl(items: Iterable[Item], algorithm: str = "sha256") -> bytes:
    """`SHA256(name)= HASH` a line, as older `openssl dgst` prints it."""
    return "".join(f"{algorithm.upper()}({one.name})= {digest(algorithm, one.data)}\n" for one in items).encode()


def shouted(items: Iterable[Item], algorithm: str = "sha256") -> bytes:
    """As a Windows tool writes it: upper-case hex, backslashes, CR LF, UTF-16LE with a byte-order mark."""
    lines = (f"{digest(algorithm, one.data).upper()} *{one.name.replace('/', chr(92))}\r\n" for one in items)
    return ("\ufeff" + "".join(lines)).encode("utf-16-le")


def bare(item: Item, algorithm: str = "sha256") -> bytes:
    """The digest alone, for a file such as `x.bin.sha256`."""
    return f"{digest(algorithm, item.data)}\n".encode()
