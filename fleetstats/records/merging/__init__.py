"""Returns that tell of one engine, made one."""
