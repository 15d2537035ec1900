"""Pages about when, and those that bring several apps together."""
