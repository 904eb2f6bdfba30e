"""Values as Qt wants them for lists."""
