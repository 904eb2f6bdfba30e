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
"""Version-like strings kept from one piece."""
MAX_DATES = 32
"""Dates kept from one piece."""
MAX_SCAN = 4 << 20
"""Bytes looked through for version-like strings."""
MAX_LIST_BYTES = 8 << 20
MAX_LIST_ENTRIES = 100_000
MAX_MEMBERS = 100_000
"""Members of one archive."""
MAX_FILL_BYTES = 64 << 20
"""Bytes of the longest piece that is looked through for being blank."""
MAX_DIRECTORY_BYTES = 32 << 20
"""Bytes of one archive's directory."""
MAX_UNPACKED = 16 << 20
"""Bytes of one EFI driver unpacked; a card's ROM window is 16 MiB at most (PCI 2.2)."""
MAX_UNPACK_FREE, MAX_UNPACK_RATIO = 512 << 10, 100
"""Bytes one compressed driver may always unpack to, and how many a packed byte beyond that (real drivers: 2 to 4)."""
MAX_UNPACK_FREE_WORK, MAX_UNPACK_WORK = 16_384, 2
"""Symbols unpacked from one compressed driver: so many, and so many more a packed byte (real drivers: 0.7 a byte)."""
MAX_INNER_DEPTH, MAX_INNER_LOOKS = 4, 4_096
"""Readings inside readings, and how many stretches inside one piece are looked at."""
MAX_INNER_BYTES, MAX_INNER_RATIO = 1 << 20, 8
"""Bytes inside one piece that are looked at, all stretches together: so many always, or so many times its size."""
MAX_INNER_UNPACKED = 64 << 20
"""Bytes unpacked inside one piece, all sections together."""
MAX_SIGNATURE_BYTES = 1 << 20
"""Bytes of a certificate table that are read (real ones: 2 to 40 kB)."""
MAX_SIGNATURES, MAX_SIGNERS, MAX_CERTIFICATES = 16, 8, 32
"""Signatures of one piece, nested ones included; signers and certificates of one signature."""
MAX_PROOFS = 64
"""Signatures by keys that are checked for one piece: its signers, their certificates, their timestamps."""
MAX_KEY_BITS = 8_192
"""Largest RSA key that is checked; the time grows with the square of it."""
MAX_PAYLOAD_BYTES = 64 << 20
"""Bytes of a capsule's payload that are compared with what was signed."""
MAX_SIGNED_BYTES = 256 << 20
"""Bytes of an image that are hashed to compare with what was signed."""
MAX_VOLUME_BYTES, MAX_VOLUMES, MAX_VOLUME_TRIES = 64 << 20, 64, 4_096
"""How far into a chip's image firmware volumes are looked for, how many, and places where one seems to begin."""
MAX_VOLUME_DEPTH, MAX_SECTION_DEPTH = 3, 4
"""Volumes inside volumes; sections inside sections of one file."""
MAX_VOLUME_FAULTS = 50
MAX_BLOCK_MAP = 64
MAX_SECTION_UNPACKED = 32 << 20
"""Bytes one LZMA section of a firmware volume may unpack to (a whole firmware is 16 MiB as a rule)."""
MAX_VPD_BYTES = 32 << 10
"""Vital product data of one card (PCI 2.2, appendix I: a 15-bit address)."""
MAX_HEX_BYTES, MAX_HEX_RUNS, MAX_HEX_FAULTS = 32 << 20, 4_096, 50
"""Bytes of one text of hex records, separate runs of bytes it loads, and faults of it that are told."""
MAX_DETACHED_BYTES = 64 << 10
"""Bytes of a signature that lies beside a file (real ones: 100 bytes to 2 kB)."""
MAX_TREE_BYTES, MAX_TREE_STRINGS = 64 << 20, 1 << 20
"""Bytes of one device tree (image trees carry whole systems), and of the names of its properties."""
MAX_TREE_DEPTH, MAX_TREE_TOKENS = 64, 100_000
"""Nodes inside nodes of one device tree, and its tokens."""
MAX_UF2_BLOCKS = 1 << 16
"""Blocks of one UF2 file: 32 MiB."""
MAX_DFU_BYTES = 256 << 20
"""Bytes under the sum of a DFU suffix."""
MAX_RPM_TAGS, MAX_RPM_HEADER = 1 << 16, 32 << 20
"""Tags of one RPM header, and bytes of its store (rpm itself: 65,535 tags, 256 MiB)."""
MAX_DIGESTED = 128 << 20
"""Bytes of one package that are hashed to compare with a digest it states."""
MAX_DICTIONARY = 64 << 20
"""Bytes of the window that unpacking a 7z block may keep (or the block's size, where that is less)."""
MAX_BLOCKS, MAX_CODERS = 10_000, 8
"""Blocks of one 7z archive that are unpacked together, and coders of one of them."""
MAX_CAB_FOLDERS = 4_096
"""Folders of one cabinet."""
MAX_FAT_SECTORS = 1 << 16
"""Sectors of a compound file's allocation table: a file of 4 GiB has as many at most."""
MAX_MSI_TABLE = 8 << 20
"""Bytes of one table or pool of texts of an installer that are read."""
MAX_SKIP_FREE, MAX_SKIP_RATIO, MAX_SKIPPED = 256 << 20, 200, 16 << 30
"""Bytes of one archive that are unpacked only to be passed over: so many always, or so many times its size, and never
more than the last."""
MAX_LIST_KEYS = 10_000
"""Entries of one file of EFI signature lists (published lists of revoked images have under 1,000)."""
MAX_DISK_EXTENTS = 400_000
"""Stretches that the files of one disk image lie in, all together."""
MAX_DISK_DEPTH = 64
"""Folders in folders of one disk image (ISO 9660 allows 8 levels, path names on FAT 260 characters)."""
MAX_FOLDER_BYTES, MAX_FOLDERS_BYTES = 16 << 20, 64 << 20
"""Bytes of one folder of a disk image (FAT allows 2 MiB), and of all its folders together."""
MAX_DISK_STEPS = 1 << 16
"""Clusters followed in one FAT image beyond twice as many as it has."""
MAX_TABLE_BYTES = 64 << 20
"""Bytes of one copy of a file allocation table that are compared with the other."""
MAX_PARTITIONS = 256
"""Partitions of one disk image."""
MAX_DESCRIPTORS = 64
"""Volume descriptors of one ISO 9660 or UDF volume, and entries of one boot catalogue."""
MAX_CONTINUATIONS = 32
"""Continuation areas of one ISO 9660 directory record (SUSP 1.12, CE)."""
MAX_BRANCHES_FREE, BRANCH_BYTES = 1 << 16, 4
"""Branches of one 7z block that are undone: so many always, and one for so many bytes (real code: one for 15)."""
