"""Bounds that intake keeps while it opens archives. Each has a test that reaches it."""

MAX_DEPTH = 5
"""Archives in archives that are opened; 1 is an archive that lies in a folder."""
MAX_MEMBER_BYTES = 64 << 20
"""A member up to this size is unpacked into memory, read and, if an archive, opened. A longer one is only hashed."""
MAX_HELD_BYTES = 96 << 20
"""Unpacked bytes that one road into archives may hold in memory at a time."""
MAX_UNPACKED_BYTES = 16 << 30
"""Bytes unpacked from one file on disk, with all that is nested in it."""
MAX_MEMBERS = 100_000
"""Members of one file on disk, folders too, with all that is nested in it."""
FREE_MEMBERS = 4_096
"""Members of one file on disk for which its size is not looked at; those that lie deep count as DEEP_MEMBERS.
Measured: 3,000 tiny files that are much alike are 9 kB as tar.xz, and so many as this take 2 s."""
DEEP_MEMBERS = 2
"""What a member counts as that lies more than two archives deep (a tar in its stream is two): those are archives more
often, which take longer to open than plain members to read (measured)."""
MEMBER_BYTES = 16
"""Bytes of the file on disk a member, beyond FREE_MEMBERS: a zip archive needs 76 to list one (PKWARE APPNOTE 4.3.7,
4.3.12), packed trees of small files some hundred; archives of archives that repeat make a million out of 20 kB."""
FREE_BYTES = 256 << 20
"""Unpacked bytes of one file on disk for which no ratio is looked at: blank flash images pack a thousand to one."""
MAX_RATIO = 200
"""Unpacked bytes a byte of the file on disk, beyond FREE_BYTES."""
BIG_MEMBER = 8 << 20
"""Members from this size on are held in memory by one thread at a time."""
