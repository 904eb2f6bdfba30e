"""Cards: what their saved listings show after a conversion."""
