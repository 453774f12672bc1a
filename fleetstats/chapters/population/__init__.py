"""Every engine made or registered."""
