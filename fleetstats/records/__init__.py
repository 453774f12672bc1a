"""Floor 1: what was written down, read, checked and accounted for."""
