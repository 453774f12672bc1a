"""What stretches and what shortens life."""
