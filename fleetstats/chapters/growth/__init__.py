"""Whether later builds fail less."""
