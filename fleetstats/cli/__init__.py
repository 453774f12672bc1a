"""Floor 7: the verbs at a prompt."""
