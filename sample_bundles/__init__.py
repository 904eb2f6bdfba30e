"""The demo's invented bundles, and the script that makes them."""
