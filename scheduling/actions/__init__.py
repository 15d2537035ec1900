"""What changes in scheduling, a module per noun."""
