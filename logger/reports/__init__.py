"""Records that are handed over."""
