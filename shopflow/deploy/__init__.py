"""From a fresh clone to a running shop: installing, bundling, laying out, and one supervisor over all processes."""
