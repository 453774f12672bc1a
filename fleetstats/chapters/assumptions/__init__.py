"""Every assumption and setting."""
