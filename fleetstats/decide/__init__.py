"""Floor 5: what follows. Claims, advice, plans."""
