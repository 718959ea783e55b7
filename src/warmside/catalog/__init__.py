"""What can be bought and where a house stands: data with a source per value."""
