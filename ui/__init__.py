"""The window. It acts only through `catalogue.tasks`."""
