"""Hours of unlike meters made one."""
