"""The coded cautions of a study."""
