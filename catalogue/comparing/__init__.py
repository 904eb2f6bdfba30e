"""Two pieces side by side: their readings field by field, their bytes, the members of bundles. Pure: values in, what
differs out; the only thing read is the View it is handed."""
