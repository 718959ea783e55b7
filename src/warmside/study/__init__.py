"""What is in each bay, and what it is worth."""
