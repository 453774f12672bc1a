"""Days of lives: what stands in for a date that is missing, and lives as seen from a date on."""
