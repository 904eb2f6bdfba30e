"""Card-family files: schema, loading, laws; a card's IDs in, families out."""
