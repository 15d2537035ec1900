"""What changes in readings, an action per thing that a user does."""
