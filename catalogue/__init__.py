"""The core of Kitproof: reads firmware, judges kits, proves media. It knows no window."""
