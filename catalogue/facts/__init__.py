"""Facts files: what one bench recorded, as plain text that another bench reads, and that anybody may sign."""
