"""What a report says before it has a format."""
