"""What changes in jobs, an action per thing that a user does."""
