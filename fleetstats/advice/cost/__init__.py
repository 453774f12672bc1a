"""Answer (d): what planned overhaul costs at each age, and the age of least cost."""
