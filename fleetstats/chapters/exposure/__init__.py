"""How many engines stand behind each age."""
