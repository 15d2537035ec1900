"""Pages about people, places and things."""
