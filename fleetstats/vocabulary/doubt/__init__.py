"""Words that say how surely a number or a date is known, and words for months."""
