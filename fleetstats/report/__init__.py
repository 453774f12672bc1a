"""Floor 6: showing it. One document, several faces."""
