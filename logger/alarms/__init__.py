"""What is watched, and the life of an alarm."""
