"""Forms of the pages about people, places and things."""
