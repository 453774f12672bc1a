"""Five answers, the band, stop rule and review."""
