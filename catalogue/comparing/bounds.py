"""Bounds that a comparison keeps. Each has a test that reaches it."""

MAX_FIELDS = 2_000
"""Differing fields that are told."""
MAX_RANGES = 1_000
"""Ranges of bytes that are told; where there are more, near ones are told as one, nearer or farther as need be."""
LEAST_GAP = 4
"""Ranges with fewer equal bytes than this between them are one: a number of four bytes seldom changes in all."""
SHOWN_BYTES = 256
"""Bytes of a range that are shown for each side."""
MAX_WHERE = 8
"""Fields named for one range."""
MAX_MEMBERS = 2_000
"""Members that differ which are told."""
MAX_READ_MEMBERS = 200
"""Changed members of bundles that are compared field by field."""
