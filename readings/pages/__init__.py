"""Pages about readings."""
