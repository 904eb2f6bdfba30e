"""Names the target can type, write-out, read-back."""
