"""Bounds that every reader keeps. Each has a test that reaches it."""

MAX_IMAGES = 64
"""Images of one option ROM that are read."""
MAX_ROM_BYTES = 64 << 20
"""How far into a file images of an option ROM are looked for; a card's ROM window is 16 MiB at most (PCI 2.2)."""
MAX_PARTS = 256
MAX_FIELDS = 512
"""Fields of one reading."""
MAX_DEVICES = 256
"""Entries of one PCI device list."""
MAX_TEXT = 4_096
"""Characters of one value."""
MAX_STRINGS = 200
"""Version-like strings kept from an opaque piece."""
MAX_SCAN = 4 << 20
"""Bytes looked through for version-like strings."""
MAX_LIST_BYTES = 8 << 20
MAX_LIST_ENTRIES = 100_000
MAX_MEMBERS = 100_000
"""Members of one archive."""
MAX_PE_BYTES = 64 << 20
"""Bytes of one program handed to a library that wants them whole."""
MAX_DIRECTORY_BYTES = 32 << 20
"""Bytes of one archive's directory."""
MAX_UNPACKED = 16 << 20
"""Bytes of one EFI driver unpacked; a card's ROM window is 16 MiB at most (PCI 2.2)."""
MAX_UNPACK_FREE, MAX_UNPACK_RATIO = 512 << 10, 100
"""Bytes one compressed driver may always unpack to, and how many a packed byte beyond that (real drivers: 2 to 4)."""
MAX_UNPACK_FREE_WORK, MAX_UNPACK_WORK = 16_384, 2
"""Symbols unpacked from one compressed driver: so many, and so many more a packed byte (real drivers: 0.7 a byte)."""
MAX_INNER_DEPTH, MAX_INNER_LOOKS = 4, 2_048
"""Readings inside readings, and how many stretches inside one piece are looked at."""
MAX_INNER_BYTES, MAX_INNER_RATIO = 1 << 20, 8
"""Bytes inside one piece that are looked at, all stretches together: so many always, or so many times its size."""
MAX_INNER_UNPACKED = 64 << 20
"""Bytes unpacked inside one piece, all sections together."""
