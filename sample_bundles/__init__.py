"""The demo's invented bundles, and the script that makes them, byte for byte the same each time.

Makers, cards, utilities, PCI IDs and company IDs are invented for the Saltmarsh College reuse bench; none is
registered. The structures are real (option ROMs, PE, ELF and DOS programs, zips), so any reader may be tried on them.
"""
