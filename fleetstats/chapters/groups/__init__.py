"""May sources and builds be taken together, and what carries the answer."""
