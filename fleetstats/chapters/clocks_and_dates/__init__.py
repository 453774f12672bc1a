"""The same question put to other clocks, dates and years."""
