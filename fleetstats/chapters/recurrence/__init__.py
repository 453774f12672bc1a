"""Events that come again."""
