"""The job folder: what was measured and chosen, how it is read, edited and resolved."""
