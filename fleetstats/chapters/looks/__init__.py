"""How often the records were looked at, and how error is held over all looks."""
